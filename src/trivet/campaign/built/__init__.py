"""Numbers that the build sheet holds of each cell."""
