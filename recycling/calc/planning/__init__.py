"""The wing `planning` of recycling/calc."""
