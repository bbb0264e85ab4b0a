"""The wing `quality` of recycling/services."""
