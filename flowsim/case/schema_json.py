"""The JSON Schema of a case file, for editors."""

from __future__ import annotations

import ast
import inspect
import sys
from typing import Any

from flowsim.case import schema_air, schema_box, schema_case, schema_limits, schema_release
from flowsim.case.schema import Case
from flowsim.case.units import bound_of, example_of, pattern, wording
from flowsim.case.units_table import DIMENSIONS, PLAIN

__all__ = ["case_json_schema"]


def case_json_schema() -> dict[str, Any]:
    """Return the JSON Schema of a case file, with one unit pattern per dimension.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. [-]
    """
    schema = Case.model_json_schema()
    used: set[str] = set()
    _describe(schema)
    _put_references(schema, used)
    for name in sorted(used):
        schema["$defs"][name] = _quantity(name)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Case of flowsim"
    return schema


def _quantity(dimension: str) -> dict[str, Any]:
    """Return the schema of one dimension."""
    text = {
        "type": "string",
        "pattern": pattern(dimension),
        "description": f"{wording(dimension).capitalize()} with a unit.",
        "examples": [example_of(dimension)],
    }
    if dimension not in PLAIN:
        return text
    if dimension != "ratio":
        return {"type": "number", "description": f"{wording(dimension).capitalize()}."}
    del text["description"]
    return {"anyOf": [{"type": "number"}, text], "description": "A ratio, plain or in percent."}


def _put_references(node: Any, used: set[str]) -> None:
    """Replace each mark of a dimension by a reference to its pattern."""
    if isinstance(node, list):
        for item in node:
            _put_references(item, used)
    if not isinstance(node, dict):
        return
    dimension = node.pop("x-dimension", None)
    if isinstance(dimension, str):
        used.add(dimension)
        node["$ref"] = f"#/$defs/{dimension}"
    for item in list(node.values()):
        _put_references(item, used)
    _drop_null(node)
    if isinstance(node.get("title"), str) and "properties" not in node:
        del node["title"]
    if "default" in node:
        _put_unit(node)


def _drop_null(node: dict[str, Any]) -> None:
    """Take out null, which TOML does not have."""
    options = [item for item in node.get("anyOf", ()) if item != {"type": "null"}]
    if "anyOf" in node and len(options) == 1:
        del node["anyOf"]
        node.update({key: value for key, value in options[0].items() if key not in node})


def _put_unit(node: dict[str, Any]) -> None:
    """Write the default of a quantity as it stands in a file."""
    options = (item for item in node.get("anyOf", ()) if isinstance(item, dict))
    places = [node, node.get("items", {}), *options]
    names = [str(place.get("$ref", "")).removeprefix("#/$defs/") for place in places]
    name = next((name for name in names if name in DIMENSIONS), None)
    default = node["default"]
    if isinstance(default, dict) or default is None:
        del node["default"]
    elif name is None or name in PLAIN:
        return
    elif isinstance(default, list | tuple):
        node["default"] = [bound_of(name, value) for value in default]
    else:
        node["default"] = f"{default:g} {DIMENSIONS[name].unit}"


def _describe(schema: dict[str, Any]) -> None:
    """Copy the texts below the fields of the models into the schema."""
    texts: dict[str, dict[str, str]] = {}
    for module in (schema_air, schema_box, schema_case, schema_limits, schema_release):
        texts |= _texts(inspect.getsource(sys.modules[module.__name__]))
    models = {"CaseParts": schema, **schema["$defs"]}
    for name, fields in texts.items():
        for field, text in fields.items():
            if field in models.get(name, {}).get("properties", {}):
                models[name]["properties"][field]["description"] = text


def _texts(source: str) -> dict[str, dict[str, str]]:
    """Return class -> field -> text from the source of a module."""
    found: dict[str, dict[str, str]] = {}
    for node in ast.parse(source).body:
        if not isinstance(node, ast.ClassDef):
            continue
        for item, after in zip(node.body, node.body[1:], strict=False):
            if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name):
                value = after.value if isinstance(after, ast.Expr) else None
                if isinstance(value, ast.Constant) and isinstance(value.value, str):
                    found.setdefault(node.name, {})[item.target.id] = value.value
    return found
