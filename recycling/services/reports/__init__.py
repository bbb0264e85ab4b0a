"""The wing `reports` of recycling/services."""
