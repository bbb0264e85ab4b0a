"""The wing `setup` of recycling/models."""
