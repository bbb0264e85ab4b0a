"""The wing `setup` of recycling/records."""
