"""A door: JSON."""
