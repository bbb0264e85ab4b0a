"""The wing `energy` of recycling/records."""
