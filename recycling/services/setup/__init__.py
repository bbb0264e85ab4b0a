"""The wing `setup` of recycling/services."""
