"""The wing `protocol` of api."""
