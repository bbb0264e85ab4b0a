"""The wing `runs` of recycling/queries."""
