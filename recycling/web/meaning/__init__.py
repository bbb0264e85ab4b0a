"""Pages that say what figures mean: closure, weighing, yield, feed order, reconciliation."""
