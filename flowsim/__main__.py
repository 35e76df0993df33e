"""Run the command line by ``python -m flowsim``."""

from __future__ import annotations

import sys

from flowsim.cli.program import main

if __name__ == "__main__":
    sys.exit(main())
