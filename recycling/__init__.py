"""Regrind Ledger: the shared book of a workshop that turns bottles into filament."""
