"""The wing `setup` of recycling/web."""
