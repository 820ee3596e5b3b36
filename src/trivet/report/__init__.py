"""Draws and words; reads tables only and computes no result."""
