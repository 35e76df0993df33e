"""The command line: arguments, exit codes, and the only printing."""

from __future__ import annotations

import argparse
import atexit
import gc
import os
import re
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["main"]

EXIT_INPUT, EXIT_NOT_CONVERGED, EXIT_NOT_MET, EXIT_STOPPED = 2, 3, 4, 130
FIDELITIES = ("network", "section", "stacked", "volume")
MARKERS = ("summary.json", "comparison.json")

CAUTION = (
    "Caution: a screening calculation, not a test of the built enclosure. Work with hazardous "
    "substances needs a tested fume cupboard or licensed advice; look whether the air still "
    "flows the right way before every use."
)
DESCRIPTION = (
    "Airflow in a home-built clean-air enclosure: which way the front blows, how evenly the "
    "work surface draws, how the pressures lie."
)
EPILOG = (
    "exit codes: 0 done; 2 faulty input, all faults listed; 3 no solution found; "
    "4 with --strict, if a limit is not met or not shown. "
    "Results go to standard output, everything else to standard error. " + CAUTION
)


class _Parser(argparse.ArgumentParser):
    """Argument parser that names the nearest right word."""

    words: tuple[str, ...] = ()

    def error(self, message: str) -> NoReturn:
        """Leave with what is wrong and what was probably meant."""
        import difflib

        match = re.search(r"invalid choice: '?([^' ]+)|unrecognized arguments: ([^\s=]+)", message)
        wrong = next((word for word in match.groups() if word), "") if match else ""
        close = difflib.get_close_matches(wrong, _Parser.words, 1, 0.5) if wrong else []
        guess = f"; did you mean '{close[0]}'?" if close else ""
        self.print_usage(sys.stderr)
        self.exit(EXIT_INPUT, f"{self.prog}: {message}{guess}\n")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; left out = those of the process. [-]

    Returns
    -------
    int
        Exit code: 0 done, 2 input, 3 not converged, 4 a limit not met with ``--strict``. [-]
    """
    _tolerate_narrow_streams()
    _tune(argv is None)
    parser = _parser()
    try:
        arguments = parser.parse_args(_spread(sys.argv[1:] if argv is None else list(argv)))
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else 0
    if arguments.handler is None:
        parser.print_help(sys.stderr)
        return EXIT_INPUT
    return _guarded(arguments.handler, arguments)


def _tune(whole_process: bool) -> None:
    """Use one matrix thread, as several stall on small matrices; spare the garbage collector."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    if whole_process:
        gc.set_threshold(50_000)
        atexit.register(gc.freeze)


def _tolerate_narrow_streams() -> None:
    """Replace signs that a stream cannot encode, in place of failing."""
    for stream in (sys.stdout, sys.stderr):
        narrow = (getattr(stream, "encoding", None) or "utf-8").lower() not in ("utf-8", "utf8")
        if narrow and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _parser() -> _Parser:
    """Return the parser of all commands."""
    parser = _Parser("flowsim", description=DESCRIPTION, epilog=EPILOG, allow_abbrev=False)
    version = sys.modules["flowsim"].__version__
    parser.add_argument("--version", action="version", version=f"flowsim {version}")
    parser.set_defaults(handler=None)
    commands = parser.add_subparsers(metavar="COMMAND", parser_class=_Parser)
    added: list[argparse.ArgumentParser] = []

    def add(name: str, handler: Callable[[Any], int], text: str) -> argparse.ArgumentParser:
        command = commands.add_parser(name, help=text, description=text, allow_abbrev=False)
        command.set_defaults(handler=handler)
        added.append(command)
        return command

    _add_run(add("run", _run, "solve a case and write figures, pictures and a report"))
    _add_compare(add("compare", _compare, "solve several cases and lay them side by side"))
    _add_check(add("check", _check, "read case files and list all their faults"))
    _add_example(add("example", _example, "write a commented case to start from"))
    add("schema", _schema, "print the JSON Schema of case files, for editors")
    options = {option for command in (parser, *added) for option in command._option_string_actions}
    _Parser.words = (*commands.choices, *sorted(options), *FIDELITIES)
    return parser


def _add_run(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``run``."""
    command.add_argument("case", metavar="CASE", help="case file (TOML)")
    _add_output(command, "CASE.result")
    _add_changes(command)
    command.add_argument(
        "--strict", action="store_true", help="exit 4 unless every limit is shown to be met"
    )


def _add_compare(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``compare``."""
    command.add_argument("cases", metavar="CASE", nargs="+", help="case file (TOML)")
    command.add_argument(
        "--vary",
        metavar="KEY=V1,V2,...",
        action="append",
        default=[],
        help="values of one key, separated by commas (or by ';'); several keys are combined",
    )
    _add_output(command, "CASE.comparison")
    _add_changes(command)


def _add_check(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``check``."""
    command.add_argument("cases", metavar="CASE", nargs="+", help="case file (TOML)")
    _add_changes(command)


def _add_example(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``example``."""
    command.add_argument(
        "file", metavar="FILE", nargs="?", help="file to write; left out = standard output"
    )


def _add_output(command: argparse.ArgumentParser, default: str) -> None:
    """Add the choice of the output folder."""
    text = f"folder for the results (default: {default} in the current folder)"
    command.add_argument("--out", metavar="DIR", help=text)


def _add_changes(command: argparse.ArgumentParser) -> None:
    """Add the options that change a case."""
    command.add_argument(
        "--set",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        help="change one value, such as openings.front.height='140 mm'; may be repeated",
    )
    command.add_argument("--fidelity", choices=FIDELITIES, help="model of the chamber")


def _spread(words: list[str]) -> list[str]:
    """Return the arguments with the option repeated before each of several changes."""
    out: list[str] = []
    option = ""
    for word in words:
        if word in ("--set", "--vary"):
            option = word
        elif option and out[-1] != option:
            if re.match(r"[A-Za-z_][\w .\[\]-]*=", word):
                out.append(option)
            else:
                option = ""
        out.append(word)
    return out


def _say(text: str) -> None:
    """Print one line of progress."""
    print(f"flowsim: {text}", file=sys.stderr, flush=True)


def _printable(text: str) -> str:
    """Return a line without control characters."""
    return "".join(sign if sign.isprintable() else f"\\x{ord(sign):02x}" for sign in text)


def _complain(lines: Sequence[str]) -> None:
    """Print messages, one a line."""
    for line in lines:
        print(_printable(line), file=sys.stderr)


def _guarded(handler: Callable[[Any], int], arguments: argparse.Namespace) -> int:
    """Run a command and turn foreseen failures into messages and exit codes."""
    import warnings

    from flowsim.errors import CaseError, ConvergenceError, FlowsimError, ValidityWarning

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ValidityWarning)  # the result carries them
            return handler(arguments)
    except CaseError as error:
        _complain(error.lines())
        return EXIT_INPUT
    except ConvergenceError as error:
        _complain([f"flowsim: not converged: {error}"])
        return EXIT_NOT_CONVERGED
    except FlowsimError as error:
        _complain([f"flowsim: {error}"])
        return EXIT_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except OSError as error:
        _complain([f"flowsim: {error.filename or 'output'}: {error.strerror or error}"])
        return EXIT_INPUT
    except KeyboardInterrupt:
        _complain(["flowsim: stopped; nothing was written"])
        return EXIT_STOPPED


def _changes(arguments: argparse.Namespace) -> dict[str, str]:
    """Return the changes that the options ask for."""
    from flowsim.case.written_changes import pairs

    changes = dict(pairs(arguments.set, "--set"))
    if arguments.fidelity:
        changes["numerics.fidelity"] = arguments.fidelity
    return changes


def _output_folder(given: str | None, first: str, ending: str) -> Path:
    """Return the output folder, and refuse one that is not ours before any work is done."""
    from pathlib import Path

    from flowsim.errors import OutputError

    folder = Path(given) if given else Path(Path(first).stem + ending)
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: is a file; expected a folder for the results")
    foreign = folder.exists() and not any((folder / name).is_file() for name in MARKERS)
    if foreign and any(folder.iterdir()):
        raise OutputError(
            f"{folder}: is not empty and holds no earlier result; expected a new or an empty "
            "folder, or an earlier result (--out DIR names another)"
        )
    return folder


class _Heartbeat:
    """Says once a minute that work is still going on."""

    def __init__(self, text: str, seconds: float = 60.0) -> None:
        import threading

        self._text, self._seconds = text, seconds
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def _beat(self) -> None:
        passed = 0.0
        while not self._done.wait(self._seconds):
            passed += self._seconds
            _say(f"{self._text} ({passed:.0f} s so far)")

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._done.set()


def _run(arguments: argparse.Namespace) -> int:
    """Solve one case."""
    from time import perf_counter

    from flowsim.case.read import read_case

    case = read_case(arguments.case, _changes(arguments))
    folder = _output_folder(arguments.out, arguments.case, ".result")
    cells = " x ".join(str(number) for number in case.numerics.cells)
    grid = "" if case.numerics.fidelity == "network" else f", {cells} cells"
    _say(f"{arguments.case}: solving ({case.numerics.fidelity}{grid})")
    from flowsim.report.summary import terminal_table
    from flowsim.report.write import write_report
    from flowsim.simulate.run import run_case

    start = perf_counter()
    with _Heartbeat("still solving"):
        result = run_case(case)
    _say(f"solved in {perf_counter() - start:.1f} s, writing")
    try:
        with _Heartbeat("still writing"):
            write_report(result, folder, progress=_say)
        _say(f"written to {folder}")
    finally:
        print(terminal_table(result), flush=True)  # ends with the caution
    missed = [f"{check.name} {check.state}" for check in result.checks if check.state != "met"]
    if arguments.strict and missed:
        _say(f"--strict: {', '.join(missed)}")
        return EXIT_NOT_MET
    return 0


def _compare(arguments: argparse.Namespace) -> int:
    """Solve several cases and lay them side by side."""
    from flowsim.case.variants import read_variants

    cases, complaints = read_variants(arguments.cases, _changes(arguments), arguments.vary)
    if complaints:
        _complain(complaints)
        return EXIT_INPUT
    folder = _output_folder(arguments.out, arguments.cases[0], ".comparison")
    _say(f"solving {len(cases)} cases")
    from flowsim.plan.compare import compare, write_comparison
    from flowsim.report.cautions import SHORT_CAUTION
    from flowsim.report.summary import comparison_table

    with _Heartbeat("still solving"):
        comparison = compare(cases)
    try:
        write_comparison(comparison, folder)
        _say(f"written to {folder}")
    finally:
        print(comparison_table(comparison), flush=True)
    print(SHORT_CAUTION, file=sys.stderr)
    return 0


def _check(arguments: argparse.Namespace) -> int:
    """Read case files and list their faults."""
    from flowsim.case.read import read_case
    from flowsim.errors import CaseError

    changes = _changes(arguments)
    faulty = 0
    for path in arguments.cases:
        try:
            case = read_case(path, changes)
        except CaseError as error:
            _complain(error.lines())
            faulty += 1
        else:
            print(_printable(f"{path}: no faults found ('{case.title}')"))
    return EXIT_INPUT if faulty else 0


def _example(arguments: argparse.Namespace) -> int:
    """Write the starter case, never over a file."""
    from importlib.resources import files
    from pathlib import Path

    from flowsim.errors import OutputError

    text = files("flowsim.case").joinpath("starter.toml").read_text(encoding="utf-8")
    if arguments.file is None:
        print(text, end="")
        return 0
    path = Path(arguments.file)
    try:
        with path.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError:
        raise OutputError(f"{path}: exists already; nothing was written") from None
    _say(f"written to {path}; now: flowsim run {path}")
    return 0


def _schema(_: argparse.Namespace) -> int:
    """Print the JSON Schema."""
    import json

    from flowsim.case.schema_json import case_json_schema

    print(json.dumps(case_json_schema(), indent=2))
    return 0


if __name__ == "__main__":
    sys.exit(main())
