"""The wing `runs` of recycling/records."""
