"""The wing `lots` of recycling/web."""
