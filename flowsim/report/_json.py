"""Strict JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

__all__ = ["json_text", "strict"]


def _clean(value: Any) -> Any:
    """Return a value that strict JSON can hold; what is not finite becomes null."""
    if isinstance(value, Mapping):
        return {str(key): _clean(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_clean(item) for item in value]
    if value is None or isinstance(value, (bool, str)):
        return value
    if hasattr(value, "tolist"):
        return _clean(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def strict(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return a document that strict JSON can hold.

    Parameters
    ----------
    document : mapping
        Nested mappings, sequences, arrays, numbers and texts. [any]

    Returns
    -------
    dict
        Numbers that are not finite have become null.
    """
    return {str(key): _clean(item) for key, item in document.items()}


def json_text(document: Mapping[str, Any]) -> str:
    """Return a document as strict JSON.

    Parameters
    ----------
    document : mapping
        Without nan or infinity. [any]

    Returns
    -------
    str
        Indented, ends with a newline.
    """
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
