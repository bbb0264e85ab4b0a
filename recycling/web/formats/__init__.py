"""How days and times are written, by language: months in words, so that none is unclear."""
