"""Pages that record: from what a person types to one deed, and what is said after it."""
