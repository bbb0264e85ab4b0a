"""The wing `integrity` of recycling/web."""
