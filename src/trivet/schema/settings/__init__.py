"""What the user decides: one model, a class a block."""
