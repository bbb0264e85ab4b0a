"""The wing `energy` of recycling/queries."""
