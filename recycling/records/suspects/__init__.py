"""The wing `suspects` of recycling/records."""
