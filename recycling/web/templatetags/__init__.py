"""Filters and tags of templates."""
