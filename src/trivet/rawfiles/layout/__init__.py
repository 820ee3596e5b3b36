"""How a raw file is laid out: columns, quantities, units, names of files."""
