"""Studies of the program itself: how far its results can be believed, and how fast they come."""
