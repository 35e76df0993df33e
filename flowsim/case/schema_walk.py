"""Which model or kind of value stands at a path of a case, and drafts of faulty cases."""

from __future__ import annotations

import math
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_fields import Part, Quantity
from flowsim.case.schema_problem import Path

__all__ = ["draft", "is_text", "known_path", "part_at"]


def _unwrapped(annotation: Any) -> Any:
    """Return an annotation without None."""
    if get_origin(annotation) in (Union, UnionType):
        inner = [item for item in get_args(annotation) if item is not NoneType]
        return inner[0] if len(inner) == 1 else annotation
    return annotation


def _model(annotation: Any) -> type[Part] | None:
    """Return the model an annotation names, if it does."""
    inner = _unwrapped(annotation)
    return inner if isinstance(inner, type) and issubclass(inner, Part) else None


def _element(annotation: Any) -> Any:
    """Return the annotation of the elements of a tuple, or nothing."""
    inner = _unwrapped(annotation)
    return get_args(inner)[0] if get_origin(inner) is tuple else None


def known_path(path: Path) -> tuple[Path, Any]:
    """Cut a path behind the last item that the models know.

    Parameters
    ----------
    path : tuple
        Keys and indices, possibly with marks of a validator between. [-]

    Returns
    -------
    tuple of tuple and annotation
        The path, ending with the first key no model knows, and the annotation there. [-]
    """
    kept: Path = ()
    annotation: Any = CaseParts
    for item in path:
        model = _model(annotation)
        element = _element(annotation)
        if isinstance(item, int) and element is not None:
            annotation = element
        elif model is not None and item in model.model_fields:
            annotation = model.model_fields[str(item)].annotation
            annotation = _with_metadata(model.model_fields[str(item)], annotation)
        elif model is not None:
            return (*kept, item), None
        else:
            break
        kept = (*kept, item)
    return kept, annotation


def _with_metadata(field: FieldInfo, annotation: Any) -> Any:
    """Return an annotation, or the quantity that stands in the field's metadata."""
    quantity = next((item for item in field.metadata if isinstance(item, Quantity)), None)
    return annotation if quantity is None else quantity


def part_at(path: Path) -> type[Part] | None:
    """Return the model that stands at a path.

    Parameters
    ----------
    path : tuple
        Keys and indices. [-]

    Returns
    -------
    type or None
        None where a value stands, or nothing. [-]
    """
    kept, annotation = known_path(path)
    return _model(annotation) if kept == path else None


def is_text(path: Path) -> bool:
    """Say whether the value at a path is written as a string in a file.

    Parameters
    ----------
    path : tuple
        Keys and indices. [-]

    Returns
    -------
    bool
        True for quantities, names and choices; False for numbers, lists and tables. [-]
    """
    kept, annotation = known_path(path)
    if kept != path or annotation is None:
        return False
    if isinstance(annotation, Quantity):
        return True
    inner = _unwrapped(annotation)
    if hasattr(inner, "__metadata__"):
        quantity = any(isinstance(item, Quantity) for item in inner.__metadata__)
        return quantity or inner.__origin__ is str
    if get_args(inner):
        return isinstance(get_args(inner)[0], str)
    return inner is str


def draft(model: type[Part], data: object, context: dict[str, bool]) -> Any:
    """Build a part of which some keys are faulty, so that the others can be checked.

    Parameters
    ----------
    model : type
        The part's model. [-]
    data : object
        What the file says. [-]
    context : dict
        Validation context. [-]

    Returns
    -------
    Part
        Faulty or missing numbers are nan, faulty lists empty, faulty parts drafts. [-]
    """
    given = data if isinstance(data, dict) else {}
    values: dict[str, Any] = {}
    for name, field in model.model_fields.items():
        if name in given:
            values[name] = _draft_value(field, given[name], context)
        elif not field.is_required():
            values[name] = field.get_default(call_default_factory=True)
        else:
            inner = _model(field.annotation)
            values[name] = math.nan if inner is None else draft(inner, {}, context)
            if _element(field.annotation) is not None:
                values[name] = ()
    return model.model_construct(set(given) & set(values), **values)


def _draft_value(field: FieldInfo, value: Any, context: dict[str, bool]) -> Any:
    """Return the value of one key, or a stand-in."""
    inner = _model(field.annotation)
    if inner is not None:
        return draft(inner, value, context)
    element = _element(field.annotation)
    if element is not None:
        items = value if isinstance(value, list | tuple) else ()
        part = _model(element)
        if part is not None:
            return tuple(draft(part, item, context) for item in items)
        return tuple(_draft_scalar(element, item, context) for item in items)
    annotation: Any = field.annotation
    if field.metadata:
        annotation = Annotated[(annotation, *field.metadata)]
    return _draft_scalar(annotation, value, context)


def _draft_scalar(annotation: Any, value: Any, context: dict[str, bool]) -> Any:
    """Return a single value, or nan."""
    try:
        return TypeAdapter(annotation).validate_python(value, context=context)
    except ValidationError:
        return math.nan
