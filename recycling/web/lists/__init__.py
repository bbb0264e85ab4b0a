"""The wing `lists` of recycling/web."""
