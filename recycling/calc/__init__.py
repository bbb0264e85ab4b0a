"""Arithmetic, statistics and graphs over plain numbers, each with its source."""
