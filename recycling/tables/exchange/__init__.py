"""The wing `exchange` of recycling/tables."""
