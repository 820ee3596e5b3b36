"""What each electrode did, measured against the reference."""
