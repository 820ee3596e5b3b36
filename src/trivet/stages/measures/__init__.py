"""Stage measures: per-cell numbers between groups."""
