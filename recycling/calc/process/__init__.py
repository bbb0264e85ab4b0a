"""The wing `process` of recycling/calc."""
