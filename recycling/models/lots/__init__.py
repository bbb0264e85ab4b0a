"""The wing `lots` of recycling/models."""
