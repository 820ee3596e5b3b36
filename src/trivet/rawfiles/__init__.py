"""Raw files of instruments, read with an account of every row."""
