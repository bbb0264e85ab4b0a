"""The wing `tuning` of recycling/queries."""
