"""The wing `labels` of recycling/queries."""
