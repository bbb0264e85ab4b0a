"""The wing `energy` of recycling/tables."""
