"""The wing `integrity` of recycling/queries."""
