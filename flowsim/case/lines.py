"""In which line of a TOML text each key stands."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

from flowsim.case.schema_problem import Path

__all__ = ["line_of", "lines_of_keys"]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_BARE_VALUE = re.compile(r"[^,\]}#\r\n]*")
_MULTI = {
    '"""': re.compile(r'"""(?:\\.|[^\\])*?"""("{0,2})', re.DOTALL),
    "'''": re.compile(r"'''.*?'''('{0,2})", re.DOTALL),
}
_SINGLE = {
    '"': re.compile(r'"(?:\\.|[^"\\\n])*"'),
    "'": re.compile(r"'[^'\n]*'"),
}


def lines_of_keys(text: str) -> dict[Path, int]:
    """Find the line of every key, table header and list element.

    Parameters
    ----------
    text : str
        A document that `tomllib` has accepted. [-]

    Returns
    -------
    dict of tuple to int
        Path of keys and indices -> line, counted from 1; the top of the document is (). [-]
    """
    walker = _Walker(text)
    walker.document()
    return walker.lines


def line_of(path: Path, lines: dict[Path, int]) -> int | None:
    """Return the line of a path, or of the nearest part above it.

    Parameters
    ----------
    path : tuple
        Keys and indices; the last may be missing from the document. [-]
    lines : dict
        Result of `lines_of_keys`. [-]

    Returns
    -------
    int or None
        Line counted from 1; None without any document. [-]
    """
    for length in range(len(path), -1, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


class _Walker:
    """One pass over an accepted document."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.breaks = [match.start() for match in re.finditer("\n", text)]
        self.lines: dict[Path, int] = {(): 1}
        self.counts: dict[Path, int] = {}

    def document(self) -> None:
        """Walk all lines."""
        table: Path = ()
        self._skip(_GAP)
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                table = self._header()
            else:
                self._pair(table)
            self._skip(_GAP)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        """Move behind a match at this place."""
        match = pattern.match(self.text, self.at)
        if match is not None:
            self.at = match.end()

    def _mark(self, path: Path, place: int) -> None:
        """Note the line of a path and of the tables that it opens on the way."""
        line = bisect_right(self.breaks, place - 1) + 1
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _header(self) -> Path:
        """Walk one table header and return the table it opens."""
        place = self.at
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._keys()
        self.at += 2 if many else 1
        path: Path = ()
        for key in keys[:-1]:
            path = self._latest((*path, key))
        path = (*path, keys[-1])
        if not many:
            path = self._latest(path)
            self._mark(path, place)
            return path
        self._mark(path, place)
        index = self.counts.get(path, 0)
        self.counts[path] = index + 1
        self._mark((*path, index), place)
        return (*path, index)

    def _latest(self, path: Path) -> Path:
        """Return the latest element if the path is an array of tables."""
        return (*path, self.counts[path] - 1) if path in self.counts else path

    def _keys(self) -> list[str]:
        """Walk a dotted key and the sign behind it, if that is a dot."""
        keys = []
        while True:
            self._skip(_SPACE)
            keys.append(self._key())
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def _key(self) -> str:
        """Walk one simple key."""
        sign = self.text[self.at]
        if sign not in _SINGLE:
            match = _BARE_KEY.match(self.text, self.at)
            if match is None:
                raise ValueError(f"no key at character {self.at}")
            self.at = match.end()
            return match.group()
        start = self.at
        self._skip(_SINGLE[sign])
        word = self.text[start : self.at]
        return word[1:-1] if "\\" not in word or sign == "'" else _unescaped(word)

    def _pair(self, table: Path) -> None:
        """Walk one key with its value."""
        place = self.at
        path = (*table, *self._keys())
        self._mark(path, place)
        self.at += 1
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        """Walk one value."""
        sign = self.text[self.at]
        multi = _MULTI.get(self.text[self.at : self.at + 3])
        if multi is not None:
            self._skip(multi)
        elif sign in _SINGLE:
            self._skip(_SINGLE[sign])
        elif sign == "[":
            self._array(path)
        elif sign == "{":
            self._inline(path)
        else:
            self._skip(_BARE_VALUE)

    def _array(self, path: Path) -> None:
        """Walk a list."""
        self.at += 1
        index = 0
        self._skip(_GAP)
        while not self.text.startswith("]", self.at):
            self._mark((*path, index), self.at)
            self._value((*path, index))
            index += 1
            self._comma()
        self.at += 1

    def _inline(self, path: Path) -> None:
        """Walk an inline table."""
        self.at += 1
        self._skip(_GAP)
        while not self.text.startswith("}", self.at):
            self._pair(path)
            self._comma()
        self.at += 1

    def _comma(self) -> None:
        """Walk to the next element."""
        self._skip(_GAP)
        if self.text.startswith(",", self.at):
            self.at += 1
            self._skip(_GAP)


def _unescaped(word: str) -> str:
    """Return a quoted key without its escapes."""
    return str(tomllib.loads(f"key = {word}")["key"])
