"""Stage impedance: the spectra of one cell."""
