"""Words that promise more than a screening model can hold do not reach the user.

They may stand in a caution that negates them: "this does not make a box safe".
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "flowsim"

FORBIDDEN = re.compile(r"\b(safe|safely|certified|certifies|compliant|approved)\b", re.IGNORECASE)
NEGATION = re.compile(r"\b(not|no|never|neither|nor|cannot|without)\b|n't\b", re.IGNORECASE)
TEMPLATES = sorted(
    path
    for path in PACKAGE.rglob("*")
    if path.suffix in {".html", ".j2", ".jinja", ".txt", ".toml", ".md", ".css"}
)
CODE = sorted(PACKAGE.rglob("*.py"))
STATES = {"met", "not met", "not shown"}


def _promises(text: str) -> list[str]:
    """Return the sentences that hold a forbidden word and no negation."""
    sentences = re.split(r"(?<=[.:;!?])\s+|\n\s*\n|<[^>]*>", text)
    return [
        sentence.strip()
        for sentence in sentences
        if FORBIDDEN.search(sentence) and not NEGATION.search(sentence)
    ]


def _spoken(path: Path) -> list[str]:
    """Return the strings of a module without its docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    silent = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent
    ]


def test_a_promise_is_found_and_a_caution_is_not() -> None:
    assert _promises("The bench is safe. It flows.") == ["The bench is safe."]
    assert _promises("This does not prove the bench safe.") == []


def test_templates_promise_nothing() -> None:
    assert TEMPLATES
    assert [found for path in TEMPLATES for found in _promises(path.read_text("utf-8"))] == []


def test_templates_escape_everything() -> None:
    open_door = re.compile(r"\|\s*safe\b|autoescape\s+false")
    assert [path.name for path in TEMPLATES if open_door.search(path.read_text("utf-8"))] == []


def test_messages_promise_nothing() -> None:
    spoken = [text for path in CODE for text in _spoken(path)]
    assert len(spoken) > 1000
    assert [found for text in spoken for found in _promises(text)] == []


def test_readme_promises_nothing() -> None:
    assert _promises((ROOT / "README.md").read_text(encoding="utf-8")) == []


def test_states_of_a_check_are_the_three_agreed_ones() -> None:
    tree = ast.parse((PACKAGE / "simulate" / "result.py").read_text(encoding="utf-8"))
    found = next(
        node.value
        for node in tree.body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "State"
    )
    assert set(ast.literal_eval(ast.unparse(found.slice))) == STATES
