"""Sections of the appendix: every cell, every file, every method."""
