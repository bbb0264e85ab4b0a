"""The wing `runs` of recycling/web."""
