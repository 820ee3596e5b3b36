"""Raw files on their way to columns: rows below a header, with an account of each."""
