"""The wing `people` of recycling/services."""
