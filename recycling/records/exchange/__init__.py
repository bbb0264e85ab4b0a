"""The wing `exchange` of recycling/records."""
