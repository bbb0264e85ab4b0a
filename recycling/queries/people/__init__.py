"""The wing `people` of recycling/queries."""
