"""The wing `runs` of api."""
