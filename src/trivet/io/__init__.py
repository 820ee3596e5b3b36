"""The only room that opens files."""
