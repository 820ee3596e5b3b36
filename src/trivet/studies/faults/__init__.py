"""Faults of the surroundings and odd things among raw files."""
