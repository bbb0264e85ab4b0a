"""A door: pages."""
