"""The wing `setup` of api."""
