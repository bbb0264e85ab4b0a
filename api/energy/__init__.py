"""The wing `energy` of api."""
