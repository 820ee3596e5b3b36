"""Raw files as text: encoding, blocks, rows, numbers."""
