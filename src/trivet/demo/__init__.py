"""An invented campaign with known truth, for the demonstration and the tests."""
