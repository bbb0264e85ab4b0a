"""The wing `pages` of recycling/web."""
