"""Exit codes of the program."""

from __future__ import annotations

__all__ = ["EXIT_INPUT", "EXIT_NOT_CONVERGED", "EXIT_NOT_MET", "EXIT_STOPPED"]

EXIT_INPUT = 2
"""Faulty input, or output that could not be written. [-]"""

EXIT_NOT_CONVERGED = 3
"""No solution found. [-]"""

EXIT_NOT_MET = 4
"""With ``--strict``: a limit is not met, or not shown to be met. [-]"""

EXIT_STOPPED = 130
"""Stopped by Ctrl-C. [-]"""
