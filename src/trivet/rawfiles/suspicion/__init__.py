"""What is suspicious about the raw files of a cell."""
