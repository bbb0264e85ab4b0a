"""The wing `lots` of recycling/calc."""
