"""The JSON Schema of case files."""

from __future__ import annotations

import json
import re
import tomllib
from importlib.resources import files
from typing import Any

from flowsim.case.schema_json import case_json_schema

SCHEMA = case_json_schema()


def _resolve(node: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference."""
    while "$ref" in node:
        node = SCHEMA["$defs"][node["$ref"].removeprefix("#/$defs/")]
    return node


def _fits(value: Any, node: dict[str, Any]) -> bool:
    """Judge a value by the part of JSON Schema that ours uses."""
    node = _resolve(node)
    if "anyOf" in node:
        return any(_fits(value, option) for option in node["anyOf"])
    if "enum" in node or "const" in node:
        return value in node.get("enum", [node.get("const")])
    kind = node["type"]
    if kind == "object":
        known = node["properties"]
        named = set(value) <= set(known) and set(node.get("required", ())) <= set(value)
        return named and all(_fits(item, known[key]) for key, item in value.items())
    if kind == "array":
        prefix = node.get("prefixItems")
        kinds = prefix if prefix else [node["items"]] * len(value)
        return len(kinds) == len(value) and all(map(_fits, value, kinds))
    if kind == "string":
        return isinstance(value, str) and bool(re.search(node.get("pattern", ""), value))
    return isinstance(value, {"number": (int, float), "integer": int, "boolean": bool}[kind])


def test_starter_fits_the_schema() -> None:
    text = files("flowsim.case").joinpath("starter.toml").read_text(encoding="utf-8")
    assert text.startswith("#:schema ./flowsim.schema.json\n")
    document = tomllib.loads(text)
    for key, value in document.items():
        assert _fits(value, SCHEMA["properties"][key]), key
    assert _fits(document, SCHEMA)
    assert not _fits({**document, "chamber": {"width": 1300}}, SCHEMA)


def test_one_pattern_per_dimension() -> None:
    patterns = [node for node in _nodes(SCHEMA) if "[0-9.," in str(node.get("pattern", ""))]
    assert len(patterns) == len({node["pattern"] for node in patterns})
    assert {"length", "flow", "pressure", "velocity", "ratio"} <= set(SCHEMA["$defs"])


def _nodes(node: Any) -> list[dict[str, Any]]:
    """Return every table in a document."""
    children = (
        list(node.values()) if isinstance(node, dict) else node if isinstance(node, list) else []
    )
    own = [node] if isinstance(node, dict) else []
    return own + [inner for child in children for inner in _nodes(child)]


def test_every_key_is_described_and_no_mark_is_left() -> None:
    text = json.dumps(SCHEMA)
    assert "x-dimension" not in text
    assert '"null"' not in text
    for name, model in {"": SCHEMA, **SCHEMA["$defs"]}.items():
        for key, node in model.get("properties", {}).items():
            assert "description" in node or name.endswith("Range"), (name, key)


def test_defaults_are_written_with_units() -> None:
    assert SCHEMA["$defs"]["Room"]["properties"]["temperature"]["default"] == "293.15 K"
    assert SCHEMA["$defs"]["Opening"]["properties"]["discharge_coefficient"]["default"] == 0.611
    sizes = SCHEMA["$defs"]["Dust"]["properties"]["sizes"]["default"]
    assert sizes == ["0.3 um", "0.5 um", "5 um"]
    assert SCHEMA["$defs"]["Mixing"]["properties"]["in_use"]["default"] == "0.005 m2/s"
    assert SCHEMA["$defs"]["Dust"]["properties"]["room_class"]["default"] == 9.0


def test_class_is_a_bare_number() -> None:
    assert _fits({"room_class": 7}, SCHEMA["$defs"]["Dust"])
    assert not _fits({"room_class": "7 um"}, SCHEMA["$defs"]["Dust"])
