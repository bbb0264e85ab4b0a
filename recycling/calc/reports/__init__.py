"""The wing `reports` of recycling/calc."""
