"""The command line: arguments, exit codes, and the only printing."""

from __future__ import annotations

from flowsim.cli.program import main

__all__ = ["main"]
