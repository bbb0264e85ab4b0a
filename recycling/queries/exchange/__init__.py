"""The wing `exchange` of recycling/queries."""
