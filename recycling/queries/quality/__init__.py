"""The wing `quality` of recycling/queries."""
