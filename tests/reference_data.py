"""Reading of the reference tables beside the tests."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a reference table; line 1 names the source, line 2 the columns."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as stream:
        source = stream.readline()
        assert source.startswith("# source:")
        return list(csv.DictReader(stream))
