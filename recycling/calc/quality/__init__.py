"""The wing `quality` of recycling/calc."""
