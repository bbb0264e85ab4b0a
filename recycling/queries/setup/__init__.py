"""The wing `setup` of recycling/queries."""
