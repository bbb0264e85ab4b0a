"""The wing `planning` of recycling/queries."""
