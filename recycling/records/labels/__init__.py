"""The wing `labels` of recycling/records."""
