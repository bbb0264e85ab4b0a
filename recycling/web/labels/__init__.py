"""Labels: choosing, laying out, printing, and what their squares open."""
