"""The wing `runs` of recycling/services."""
