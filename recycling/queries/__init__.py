"""Reads: they return frozen records and never write."""
