"""How material was worked: what deviated from the usual."""
