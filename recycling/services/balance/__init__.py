"""The wing `balance` of recycling/services."""
