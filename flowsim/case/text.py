"""The text of a case file, and what it says as TOML."""

from __future__ import annotations

import difflib
import re
import tomllib
from pathlib import Path
from typing import Any

from flowsim.errors import CaseError, Fault

__all__ = ["document", "text_of"]

_LARGEST = 4_000_000


def _refusal(source: str, message: str, line: int | None = None) -> CaseError:
    """Return the error for a whole file."""
    return CaseError(source, [Fault("", message, line)])


def text_of(path: Path) -> str:
    """Read a case file as text.

    Parameters
    ----------
    path : Path
        The file. [-]

    Returns
    -------
    str
        Its text. [-]

    Raises
    ------
    CaseError
        If it is missing, a folder, binary, empty or too large.
    """
    source = str(path)
    try:
        if path.is_dir():
            raise _refusal(source, "is a folder; expected a case file (TOML)")
        if not path.exists():
            raise _refusal(source, f"does not exist; expected a case file (TOML){_nearest(path)}")
        if not path.is_file():
            raise _refusal(source, "is not a regular file; expected a case file (TOML)")
        if path.stat().st_size > _LARGEST:
            raise _refusal(source, "is larger than 4 MB; expected a case file (TOML)")
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, CaseError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise _refusal(source, f"cannot be read: {reason}") from None
    return _decoded(raw, source)


def _decoded(raw: bytes, source: str) -> str:
    """Return the text of the bytes of a file."""
    if b"\0" in raw:
        raise _refusal(source, "is a binary file; expected a case file (TOML, text in UTF-8)")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        message = f"is not text in UTF-8 (byte 0x{raw[error.start]:02x}); expected a case file"
        raise _refusal(source, message, line) from None
    if not text.strip():
        message = "is empty; expected a case (`flowsim example` writes one to start from)"
        raise _refusal(source, message, 1)
    return text.replace("\r\n", "\n")


def _nearest(path: Path) -> str:
    """Return a question naming a file of similar name beside a missing one."""
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.suffix == ".toml"]
    except OSError:
        return ""
    close = difflib.get_close_matches(path.name, names, 1, 0.7)
    return f"; did you mean '{path.with_name(close[0])}'?" if close else ""


def document(text: str, source: str) -> dict[str, Any]:
    """Read a text as TOML.

    Parameters
    ----------
    text : str
        The text. [-]
    source : str
        File name for messages. [-]

    Returns
    -------
    dict
        Keys and values. [as written]

    Raises
    ------
    CaseError
        If it is not TOML; the first place where it goes wrong is named.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _refusal(source, "is nested too deeply; expected a case file", 1) from None
    except ValueError as error:
        raise _syntax_refusal(str(error), text, source) from None


def _syntax_refusal(message: str, text: str, source: str) -> CaseError:
    """Return the error for a text that is not TOML."""
    match = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", message)
    number = None
    if match is not None:
        message = message[: match.start()]
        number = int(match.group(1) or text.rstrip("\n").count("\n") + 1)
    lines = text.split("\n")
    shown = lines[number - 1].strip() if number is not None and number <= len(lines) else ""
    words = f"cannot be read as TOML: {_in_words(message)}"
    if shown:
        words += f" (got '{shown[:60]}')"
    key = _key_before(lines[:number]) if number is not None else ""
    return CaseError(source, [Fault(key, words + _hint(shown), number)])


def _in_words(message: str) -> str:
    """Return the parser's message, in words of ours where it is hard to understand."""
    for start, words in _CLEARER.items():
        if message.startswith(start):
            return words
    return message[:1].lower() + message[1:]


_CLEARER = {
    "Illegal character '\\n'": "the text has no closing quote",
    "Cannot overwrite a value": "the key is given twice",
    "Exceeds the limit": "a number has too many digits",
}


def _key_before(lines: list[str]) -> str:
    """Return the key path of the last of some lines, as far as it can be told."""
    key = re.match(r"\s*([\w.-]+)\s*=", lines[-1])
    headers = [match for line in lines if (match := re.match(r"\s*(\[\[?)([\w. -]+)\]", line))]
    if key is None or not headers:
        return key.group(1) if key else ""
    bracket, table = headers[-1].group(1), headers[-1].group(2).strip()
    if bracket == "[[":
        same = [h for h in headers if h.group(1) == "[[" and h.group(2).strip() == table]
        table += f"[{len(same) - 1}]"
    return f"{table}.{key.group(1)}"


def _hint(line: str) -> str:
    """Return what was probably meant by a faulty line."""
    value = line.partition("=")[2].strip()
    comma = re.search(r"=\s*([-+]?\d+),(\d+)", line)
    if comma is not None:
        return f"; expected a decimal point; did you mean '{comma.group(1)}.{comma.group(2)}'?"
    if re.match(r"[-+]?[\d.]+\s*[^\d\s.,#]", value) or re.match(r"[A-Za-z]", value):
        return f'; expected quotes round it: "{value.partition("#")[0].strip()}"'
    if line.startswith("{"):
        return "; expected TOML, not JSON"
    if line and "=" not in line and not line.startswith("["):
        return "; expected key = value"
    return ""
