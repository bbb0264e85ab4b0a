"""The wing `balance` of recycling/queries."""
