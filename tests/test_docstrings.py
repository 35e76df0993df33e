"""Docstrings of the laws and models: units, sources; and the words in DEVELOPERS.md."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from flowsim.simulate.registry import FIGURES

ROOT = Path(__file__).resolve().parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DOCUMENTED = ("physics", "network", "plenum", "chamber", "transport")

UNIT = re.compile(r"\[[^\[\]\s][^\[\]]*\](?!_)")
LABEL = re.compile(r"\[([A-Za-z][\w-]*)\]_")
SOURCE = re.compile(r"^- \[([A-Za-z][\w-]*)\] \S", re.MULTILINE)
NUMERIC = re.compile(r"\b(float|int|array|arrays|ndarray|FloatArray|IntArray)\b")
NOT_A_NUMBER = re.compile(r"\b(bool|BoolArray|str|callable|Callable)\b")
HEADING = re.compile(r"^(\w[\w ]*)\n-{3,}\s*$", re.MULTILINE)

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True)
class Thing:
    """A public function, class or method, and its docstring."""

    name: str
    node: Function | ast.ClassDef
    text: str


def _public(path: Path) -> Iterator[Thing]:
    module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    nodes: list[tuple[str, ast.stmt]] = [
        ("", node) for node in ast.parse(path.read_text(encoding="utf-8")).body
    ]
    while nodes:
        owner, node = nodes.pop(0)
        if not isinstance(node, Function | ast.ClassDef) or node.name.startswith("_"):
            continue
        yield Thing(f"{module}.{owner}{node.name}", node, ast.get_docstring(node) or "")
        if isinstance(node, ast.ClassDef):
            nodes += [(f"{owner}{node.name}.", child) for child in node.body]


FILES = [
    path
    for layer in DOCUMENTED
    for path in sorted((ROOT / "flowsim" / layer).rglob("*.py"))
    if not path.name.startswith("_")
]
THINGS = [thing for path in FILES for thing in _public(path)]


def _section(text: str, heading: str) -> str:
    """Return one section of a docstring, without its heading."""
    marks = list(HEADING.finditer(text))
    for number, mark in enumerate(marks):
        if mark.group(1) == heading:
            end = marks[number + 1].start() if number + 1 < len(marks) else len(text)
            return text[mark.end() : end]
    return ""


def _parameters(text: str) -> dict[str, str]:
    """Return type and description of each documented parameter, in one string."""
    found: dict[str, str] = {}
    names: list[str] = []
    for line in _section(text, "Parameters").splitlines():
        if line and not line[0].isspace():
            head = line.split(" : ", 1)[0]
            names = [name.strip(" *") for name in head.split(",")]
            found.update(dict.fromkeys(names, line[len(head) :]))
        else:
            found.update({name: f"{found[name]}\n{line}" for name in names})
    return found


def _arguments(node: Function | ast.ClassDef) -> list[str]:
    """Return the names a caller passes: arguments, or the fields of a dataclass."""
    if isinstance(node, Function):
        given = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        return [item.arg for item in given if item.arg not in {"self", "cls"}]
    marks = [mark.func if isinstance(mark, ast.Call) else mark for mark in node.decorator_list]
    if not any(isinstance(mark, ast.Name) and mark.id == "dataclass" for mark in marks):
        return []
    return [
        item.target.id
        for item in node.body
        if isinstance(item, ast.AnnAssign)
        and isinstance(item.target, ast.Name)
        and "ClassVar" not in ast.unparse(item.annotation)
        and not item.target.id.startswith("_")
    ]


def test_public_things_have_a_docstring() -> None:
    assert [thing.name for thing in THINGS if not thing.text.strip()] == []


def test_numeric_parameters_carry_a_unit() -> None:
    bare = []
    for thing in THINGS:
        for name, text in _parameters(thing.text).items():
            kind = text.split("\n", 1)[0]
            numeric = NUMERIC.search(kind) and not NOT_A_NUMBER.search(kind)
            if numeric and not UNIT.search(text):
                bare.append(f"{thing.name}: {name}")
    assert bare == []


def test_parameters_are_documented() -> None:
    missing = [
        f"{thing.name}: {name}"
        for thing in THINGS
        if thing.name.count(".") == 3  # not methods
        for name in _arguments(thing.node)
        if name not in _parameters(thing.text)
    ]
    assert missing == []


def test_source_labels_stand_in_the_guide() -> None:
    listed = SOURCE.findall(GUIDE.split("\n## Sources", 1)[1])
    used = {
        label
        for path in sorted((ROOT / "flowsim").rglob("*.py"))
        for label in LABEL.findall(path.read_text(encoding="utf-8"))
    }
    assert used - set(listed) == set()
    assert len(listed) == len(set(listed))


def test_sources_in_the_guide_say_how_they_are_known() -> None:
    section = GUIDE.split("\n## Sources", 1)[1]
    entries = re.findall(r"^- \[[\w-]+\].*(?:\n  .*)*", section, re.MULTILINE)
    ways = ("read", "library", "derived", "from memory")
    assert [entry for entry in entries if not any(f"({way}" in entry for way in ways)] == []


def test_guide_lists_every_key_figure_with_symbol_and_unit() -> None:
    section = GUIDE.split("### Key figures", 1)[1].split("\n## ", 1)[0]
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in section.splitlines()
        if line.startswith("| `")
    ]
    shown = {row[0].strip("`"): (row[1], row[2]) for row in rows}
    assert shown == {name: (item.symbol, item.unit) for name, item in FIGURES.items()}


def test_the_reader_of_docstrings_finds_a_missing_unit() -> None:
    assert len(THINGS) > 100
    text = "Do.\n\nParameters\n----------\na, b : float\n    Size.\nc : float\n    Size. [m]\n"
    assert not UNIT.search(_parameters(text)["a"])
    assert UNIT.search(_parameters(text)["c"])
    assert set(_parameters(text)) == {"a", "b", "c"}
