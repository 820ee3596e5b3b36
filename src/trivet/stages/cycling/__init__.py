"""Stage cycling: cycles, electrodes and the reference of one cell."""
