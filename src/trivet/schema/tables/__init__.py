"""The dictionary of columns: one file a noun."""
