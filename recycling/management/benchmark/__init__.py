"""Measuring the service against plain SQL and plain linear algebra, on a large book."""
