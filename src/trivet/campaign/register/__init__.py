"""What people keep and what was reported, from one report issued to the next."""
