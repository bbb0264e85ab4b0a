"""The wing `quality` of recycling/web."""
