"""The layers and habits of the house, read from the source text.

Every import counts: at the top of a module, inside a function, and for types only.
The table below is the one in DEVELOPERS.md, top layer first.
"""

from __future__ import annotations

import ast
import importlib
import importlib.metadata
import json
import re
import types
from collections.abc import Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "flowsim"

LAYERS = (
    ("__main__",),
    ("cli",),
    ("plan",),
    ("batch",),
    ("report",),
    ("simulate",),
    ("transport",),
    ("network", "plenum", "chamber"),
    ("case",),
    ("physics",),
    ("errors", "_arrays", "_compile"),
)
RANK = {name: rank for rank, names in enumerate(LAYERS) for name in names}

# Modules and packages that may touch the disk; `case.text` is how `case.read` opens a file.
AT_THE_DISK = (
    "cli", "report", "case.read", "case.text", "batch.read_sweep", "batch.store", "batch.files",
)  # fmt: skip
# May import flowsim modules inside functions: the start-up budget.
LAZY = ("cli", "__init__")
# Longer files and functions than the house allows, each with its reason.
LONG_FILES: dict[str, str] = {
    "transport._walk_kernels": "kernels that call each other share one file (compile cache)",
}
LONG_FUNCTIONS: dict[str, str] = {}

FILE_CALLS = {
    "open", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "makedirs", "unlink",
    "rmdir", "rmtree", "rename", "symlink_to", "touch", "mkdtemp", "mkstemp", "savefig", "savez",
    "savetxt", "loadtxt", "genfromtxt", "fromfile", "tofile", "memmap",
    "os.replace", "os.rename", "os.remove", "os.unlink", "os.mkdir", "os.open",
}  # fmt: skip
FILE_MODULES = {"shutil", "tempfile", "sqlite3", "fileinput", "glob"}
CODE_MODULES = {"pickle", "_pickle", "marshal", "shelve", "dill", "cloudpickle", "joblib", "runpy"}


def _name(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    if len(parts) > 1 and parts[-1] == "__init__":
        parts = parts[:-1]
    return ".".join(parts)


FILES = {_name(path): path for path in sorted(PACKAGE.rglob("*.py"))}
MODULES = sorted(FILES)


@cache
def _text(module: str) -> str:
    return FILES[module].read_text(encoding="utf-8")


@cache
def _tree(module: str) -> ast.Module:
    return ast.parse(_text(module))


def _inside(module: str, places: tuple[str, ...]) -> bool:
    return any(module == place or module.startswith(f"{place}.") for place in places)


def _base(module: str, node: ast.ImportFrom) -> str:
    """Return the absolute name of the module after `from`."""
    if not node.level:
        return node.module or ""
    here = ["flowsim", *([] if module == "__init__" else module.split("."))]
    up = node.level - (FILES[module].name == "__init__.py")
    return ".".join([*here[: len(here) - up], *([node.module] if node.module else [])])


def _from_flowsim(module: str, node: ast.AST) -> Iterator[str]:
    """Yield the flowsim modules that one node imports; "" is the face."""
    if isinstance(node, ast.Import):
        for alias in node.names:
            if alias.name.split(".")[0] == "flowsim":
                yield alias.name[len("flowsim.") :]
    elif isinstance(node, ast.ImportFrom) and _base(module, node).split(".")[0] == "flowsim":
        base = _base(module, node)[len("flowsim.") :]
        for alias in node.names:
            deeper = f"{base}.{alias.name}".lstrip(".")
            if alias.name == "__version__" and not base:
                continue  # the literal lives in the face, for the build
            yield deeper if deeper in FILES else base


def _imports(module: str) -> list[tuple[int, str]]:
    return [
        (node.lineno, target)
        for node in ast.walk(_tree(module))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for target in _from_flowsim(module, node)
    ]


def _outside(module: str) -> list[tuple[int, str]]:
    """Return every import of another project, `from a import b` as "a.b"."""
    found = []
    for node in ast.walk(_tree(module)):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
    return found


def _calls(module: str) -> Iterator[tuple[int, str, ast.Call]]:
    """Yield line, bare name and node of every call; `os.replace` keeps its "os."."""
    for node in ast.walk(_tree(module)):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name):
            yield node.lineno, node.func.id, node
        elif isinstance(node.func, ast.Attribute):
            owner = node.func.value
            is_os = isinstance(owner, ast.Name) and owner.id == "os"
            yield node.lineno, f"os.{node.func.attr}" if is_os else node.func.attr, node


def _called(module: str, names: set[str]) -> list[str]:
    return [f"{module}:{line} {name}" for line, name, _ in _calls(module) if name in names]


def _imported(module: str, tops: set[str]) -> list[str]:
    found = _outside(module)
    return [f"{module}:{line} {name}" for line, name in found if name.split(".")[0] in tops]


def _functions(module: str) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(_tree(module)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def _code_lines(module: str, node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count the lines of a function without docstring, comments and blank lines."""
    lines = _text(module).splitlines()
    skip: set[int] = set()
    if ast.get_docstring(node) is not None:
        skip = set(range(node.body[0].lineno, (node.body[0].end_lineno or 0) + 1))
    numbers = range(node.lineno, (node.end_lineno or node.lineno) + 1)
    texts = [lines[number - 1].strip() for number in numbers if number not in skip]
    return sum(bool(text) and not text.startswith("#") for text in texts)


def test_every_package_stands_in_the_layer_table() -> None:
    tops = {module.split(".")[0] for module in MODULES} - {"__init__"}
    assert tops <= set(RANK)


def test_guide_shows_the_same_layers_in_the_same_order() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = guide.split("## Layers", 1)[1].split("\n## ", 1)[0]
    rows = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    shown = [[word.strip(" `/") for word in row.split(",")] for row in rows]
    assert shown == [list(names) for names in LAYERS if names != ("__main__",)]


def test_imports_go_down_only() -> None:
    wrong = []
    for module in sorted(set(MODULES) - {"__init__"}):
        own = module.split(".")[0]
        for line, target in _imports(module):
            other = target.split(".")[0]
            if target and other != own and RANK[other] <= RANK[own]:
                wrong.append(f"{module}:{line} imports {target}")
    assert wrong == []


def test_nobody_imports_from_the_face() -> None:
    wrong = [
        f"{module}:{line}" for module in MODULES for line, target in _imports(module) if not target
    ]
    assert wrong == []


def test_imports_name_the_exact_module() -> None:
    packages = {name for name, path in FILES.items() if path.name == "__init__.py"}
    wrong = [
        f"{module}:{line} imports from the package {target}"
        for module in MODULES
        for line, target in _imports(module)
        if target in packages
    ]
    assert wrong == []


def test_no_import_circle() -> None:
    graph = {module: {target for _, target in _imports(module)} for module in MODULES}
    graph.pop("__init__")
    try:
        list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        pytest.fail(f"modules import each other in a circle: {error.args[1]}")


def test_own_modules_are_imported_at_the_top() -> None:
    late = []
    for module in [name for name in MODULES if not _inside(name, LAZY)]:
        late += [
            f"{module}:{node.lineno}"
            for function in _functions(module)
            for node in ast.walk(function)
            if isinstance(node, ast.Import | ast.ImportFrom) and any(_from_flowsim(module, node))
        ]
        late += _called(module, {"import_module", "__import__"})
    assert late == []


def test_only_the_edges_touch_the_disk() -> None:
    wrong = []
    for module in [name for name in MODULES if not _inside(name, AT_THE_DISK)]:
        wrong += _called(module, FILE_CALLS)
        wrong += _imported(module, FILE_MODULES)
    assert wrong == []


def test_only_the_command_line_prints() -> None:
    wrong = []
    for module in [name for name in MODULES if not _inside(name, ("cli",))]:
        wrong += _called(module, {"print", "input"})
        wrong += [
            f"{module}:{node.lineno} {node.attr}"
            for node in ast.walk(_tree(module))
            if isinstance(node, ast.Attribute) and node.attr in {"stdout", "__stdout__"}
        ]
    assert wrong == []


def test_no_pyplot() -> None:
    pyplot = ("matplotlib.pyplot", "matplotlib.pylab", "pylab")
    wrong = [
        f"{module}:{line} {name}"
        for module in MODULES
        for line, name in _outside(module)
        if name.startswith(pyplot)
    ]
    assert wrong == []


def test_no_text_is_evaluated() -> None:
    wrong = [
        f"{module}:{node.lineno} {node.id}"
        for module in MODULES
        for node in ast.walk(_tree(module))
        if isinstance(node, ast.Name) and node.id in {"eval", "exec", "compile"}
    ]
    assert wrong == []


def test_no_pickle_is_read() -> None:
    wrong = [place for module in MODULES for place in _imported(module, CODE_MODULES)]
    wrong += [
        f"{module}:{line} allow_pickle"
        for module in MODULES
        for line, _, call in _calls(module)
        if any(word.arg == "allow_pickle" for word in call.keywords)
    ]
    assert wrong == []


def test_functions_stay_under_fifty_lines() -> None:
    long = {
        f"{module}.{node.name}": _code_lines(module, node)
        for module in MODULES
        for node in _functions(module)
        if _code_lines(module, node) > 50
    }
    assert set(long) == set(LONG_FUNCTIONS), long


def test_files_stay_under_four_hundred_lines() -> None:
    lengths = {module: len(_text(module).splitlines()) for module in MODULES}
    long = {module: lines for module, lines in lengths.items() if lines > 400}
    assert set(long) == set(LONG_FILES), long


def test_kernels_live_in_kernel_files() -> None:
    wrong = [
        f"{module}.{node.name}"
        for module in MODULES
        if not re.search(r"\._(\w+_)?kernels$", module)
        for node in _functions(module)
        if any(isinstance(mark, ast.Name) and mark.id == "compiled" for mark in node.decorator_list)
    ]
    assert wrong == []


def test_the_reader_finds_what_it_looks_for() -> None:
    """A rule that sees nothing passes in silence: each reader must find known things."""
    assert "case.schema" in {target for _, target in _imports("simulate.result")}
    assert _called("cli.speak", {"print"})
    assert any(_called(module, FILE_CALLS) for module in MODULES if _inside(module, AT_THE_DISK))
    assert _imported("_compile", {"numba"})
    assert any(_code_lines("cli.run", node) > 5 for node in _functions("cli.run"))


def test_face_lists_exactly_what_is_public() -> None:
    face = importlib.import_module("flowsim")
    shown = [name for name in dir(face) if not name.startswith("_")]
    assert shown == sorted(face.__all__)
    assert not any(isinstance(getattr(face, name), types.ModuleType) for name in shown)
    ours = {
        name
        for name, value in vars(face).items()
        if not name.startswith("_") and getattr(value, "__module__", "").startswith("flowsim")
    }
    assert ours <= set(shown)


def test_tests_run_on_the_installed_package() -> None:
    face = importlib.import_module("flowsim")
    distribution = importlib.metadata.distribution("flowsim")
    origin = json.loads(distribution.read_text("direct_url.json") or "{}")
    editable = origin.get("dir_info", {}).get("editable", False)
    assert editable or Path(face.__file__).parent != PACKAGE
