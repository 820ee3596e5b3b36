"""Stage trends: what needs the spectra of all cells."""
