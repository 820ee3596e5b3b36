"""What is said of the register of reports issued."""

from __future__ import annotations

CHECK = "register of reports"
"""Check of a line of the register that can't be read."""
