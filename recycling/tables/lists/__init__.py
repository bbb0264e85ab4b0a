"""The wing `lists` of recycling/tables."""
