"""Damage raw files and read them: `python -m trivet.studies.fuzz [FILES] [SEED]`."""

import sys

from trivet.studies.fuzz.raw_files import main

sys.exit(main())
