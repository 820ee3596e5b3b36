"""Tables to and from disk, exactly as the dictionary of columns says."""
