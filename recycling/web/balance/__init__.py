"""The wing `balance` of recycling/web."""
