"""Rows, columns and files."""
