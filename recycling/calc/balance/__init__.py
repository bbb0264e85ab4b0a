"""The wing `balance` of recycling/calc."""
