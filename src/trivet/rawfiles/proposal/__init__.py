"""A layout for an unknown file, proposed with evidence."""
