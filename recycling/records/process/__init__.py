"""The wing `process` of recycling/records."""
