"""The mass ledger: accounts, entries and postings in whole milligrams; knows nothing of bottles."""
