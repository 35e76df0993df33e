"""Command ``schema``: the JSON Schema of case files."""

from __future__ import annotations

import argparse

from flowsim.cli.command import Command

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  flowsim schema > flowsim.schema.json
  (then begin a case file with the line  #:schema ./flowsim.schema.json )"""


def _add_arguments(_: argparse.ArgumentParser) -> None:
    """Add nothing: ``schema`` has no arguments."""


def _run(_: argparse.Namespace) -> int:
    """Print the JSON Schema."""
    import json

    from flowsim.case.schema_json import case_json_schema

    print(json.dumps(case_json_schema(), indent=2))
    return 0


COMMAND = Command(
    "schema", "print the JSON Schema of case files, for editors", _EXAMPLES, _add_arguments, _run
)
"""The command ``schema``. [-]"""
