"""Studies that can be run again: calibration of the statistics, and benchmarks."""
