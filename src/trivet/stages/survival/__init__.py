"""Stage survival: groups and their comparison."""
