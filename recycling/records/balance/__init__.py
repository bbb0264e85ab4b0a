"""The wing `balance` of recycling/records."""
