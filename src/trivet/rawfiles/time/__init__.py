"""When the rows of raw files were taken."""
