"""Every public law says where it is valid, and where its numbers come from."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from types import ModuleType

import pytest

import flowsim.physics

MODULES = [
    importlib.import_module(f"flowsim.physics.{info.name}")
    for info in pkgutil.iter_modules(flowsim.physics.__path__)
    if not info.name.startswith("_")
]


def _laws(module: ModuleType) -> list[tuple[str, str]]:
    return [
        (f"{module.__name__}.{name}", inspect.getdoc(thing) or "")
        for name, thing in vars(module).items()
        if not name.startswith("_")
        and (inspect.isfunction(thing) or inspect.isclass(thing))
        and thing.__module__ == module.__name__
    ]


LAWS = [law for module in MODULES for law in _laws(module)]
FUNCTIONS = [
    (f"{module.__name__}.{name}", inspect.getdoc(getattr(module, name)) or "")
    for module in MODULES
    for name in module.__all__
    if inspect.isfunction(getattr(module, name))
]
LABEL = re.compile(r"\[[A-Za-z][\w-]*\]_")
# what stands for a source where a law needs none, or hands on to the law that has it
REASON = re.compile(
    r"\b(own|exact|definition|derived|derivation|geometry|balance|conservation|continuity|momentum|"
    r"kinetic energy|bernoulli|ideal gas(es)?|poisson|bisection|drops add|no source|"
    r"common practice)\b|`[\w.]+`",
    re.IGNORECASE,
)


def test_laws_are_found() -> None:
    names = {name.rpartition(".")[2] for name, _ in LAWS}
    assert {"air_state", "DuctRun", "PerforatedPlate", "crossflow_coefficient"} <= names


@pytest.mark.parametrize(("name", "text"), LAWS, ids=[name for name, _ in LAWS])
def test_range_of_validity_is_stated(name: str, text: str) -> None:
    notes = text.partition("Notes\n-----")[2]
    assert re.search(r"\b[Vv]alid\b", notes), f"{name}: no range of validity in its Notes"


@pytest.mark.parametrize(("name", "text"), FUNCTIONS, ids=[name for name, _ in FUNCTIONS])
def test_source_is_stated(name: str, text: str) -> None:
    notes = text.partition("Notes\n-----")[2]
    assert LABEL.search(notes) or REASON.search(notes), f"{name}: no source in its Notes"


def test_a_law_without_a_source_is_found() -> None:
    notes = "Valid for any number, from 1 to 2."
    assert not LABEL.search(notes)
    assert not REASON.search(notes)
    assert len(FUNCTIONS) > 100


@pytest.mark.parametrize("module", MODULES, ids=[module.__name__ for module in MODULES])
def test_public_names_exist(module: ModuleType) -> None:
    assert module.__all__
    assert all(hasattr(module, name) for name in module.__all__)
