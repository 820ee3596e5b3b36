"""Circuits of elements, and their fit to a spectrum."""
