"""Charge, energy and cycles from the rows of a series."""
