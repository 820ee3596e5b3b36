"""Findings in words: one file a noun."""
