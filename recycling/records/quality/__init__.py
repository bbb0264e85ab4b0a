"""The wing `quality` of recycling/records."""
