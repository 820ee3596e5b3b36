"""The version of the program."""

VERSION = "0.2.0"
