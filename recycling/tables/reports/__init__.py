"""The wing `reports` of recycling/tables."""
