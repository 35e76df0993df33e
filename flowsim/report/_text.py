"""Plain text in lines and columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

__all__ = ["columns", "wrapped"]

WIDTH = 100


def wrapped(text: str, indent: str = "") -> Iterator[str]:
    """Yield the lines of a text."""
    one_line = " ".join(text.split())
    yield from textwrap.wrap(
        one_line, WIDTH, initial_indent=indent, subsequent_indent=indent, break_long_words=False
    )


def columns(
    rows: Sequence[tuple[str, ...]], indent: str = "  ", right: Sequence[int] = (1,)
) -> list[str]:
    """Return rows as lines with aligned columns; columns `right` are flush right."""
    if not rows:
        return []
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append((indent + "  ".join(cells)).rstrip())
    return lines
