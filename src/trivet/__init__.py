"""Trivet: from a folder of raw files and a build sheet to an honest report on coin cells."""

__version__ = "0.2.0"
