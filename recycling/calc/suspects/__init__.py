"""The wing `suspects` of recycling/calc."""
