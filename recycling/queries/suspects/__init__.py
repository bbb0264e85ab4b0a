"""The wing `suspects` of recycling/queries."""
