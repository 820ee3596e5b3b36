"""Calibration study: how often verdicts are wrong, over many campaigns drawn from known laws."""
