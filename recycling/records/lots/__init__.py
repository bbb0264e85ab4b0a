"""The wing `lots` of recycling/records."""
