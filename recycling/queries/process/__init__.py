"""The wing `process` of recycling/queries."""
