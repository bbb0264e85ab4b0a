"""The wing `lots` of recycling/services."""
