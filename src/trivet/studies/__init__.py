"""Studies of the program itself: how fast it is, and what broken files do to it."""
