"""`python -m trivet.stages`: the command of a job, which hands it over where somebody stands by."""

import importlib
import sys

from trivet.stages.standby import handed_over

if __name__ == "__main__":
    status = handed_over(sys.argv[1:])
    if status is None:
        # the statement `import` would cost a command that only waits all that its job needs
        importlib.import_module("trivet.stages.command").main()
    sys.exit(status)
