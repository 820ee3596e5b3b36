"""Stage lifetime: how long each cell and reference lasted."""
