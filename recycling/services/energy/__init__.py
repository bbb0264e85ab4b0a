"""The wing `energy` of recycling/services."""
