"""The wing `forms` of recycling/web."""
