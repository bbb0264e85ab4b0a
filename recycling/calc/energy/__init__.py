"""The wing `energy` of recycling/calc."""
