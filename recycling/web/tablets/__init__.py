"""Shared tablets: who is acting on them, when they lock, and what was typed when they did."""
