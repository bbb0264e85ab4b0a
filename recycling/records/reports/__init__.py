"""The wing `reports` of recycling/records."""
