"""The wing `lots` of recycling/queries."""
