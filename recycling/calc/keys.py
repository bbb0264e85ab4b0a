"""What calculations call runs, lots and origins by."""

from typing import Any, TypeAlias

Key: TypeAlias = Any
"""Anything hashable that the caller chooses: a row's id, a code, a tuple."""
