"""Pages that read: stock, lots, collections, runs, the balance, and the way between them."""
