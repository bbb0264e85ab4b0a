"""Ground floor: words that the doors and the calculations both use. Imports nothing of ours."""
