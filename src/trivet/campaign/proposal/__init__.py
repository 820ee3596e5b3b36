"""What a table that people keep may be: build sheet or bench log, and which column is which."""
