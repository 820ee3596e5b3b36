"""How long cells and references lasted, and what ended them."""
