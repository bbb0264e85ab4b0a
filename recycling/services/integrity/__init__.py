"""The wing `integrity` of recycling/services."""
