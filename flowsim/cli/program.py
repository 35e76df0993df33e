"""The program: one command from its arguments to its exit code."""

from __future__ import annotations

import argparse
import atexit
import gc
import os
import sys
from collections.abc import Callable, Sequence
from typing import Any

from flowsim.cli.codes import EXIT_INPUT, EXIT_NOT_CONVERGED, EXIT_STOPPED
from flowsim.cli.options import spread
from flowsim.cli.parser import parser
from flowsim.cli.speak import complain, tolerate_narrow_streams

__all__ = ["main"]


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
    tolerate_narrow_streams()
    _tune(argv is None)
    words = sys.argv[1:] if argv is None else list(argv)
    whole = parser()
    try:
        arguments = whole.parse_args(spread(words))
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else 0
    if arguments.handler is None:
        whole.print_help(sys.stderr)
        return EXIT_INPUT
    arguments.words = words
    return _guarded(arguments.handler, arguments)


def _tune(whole_process: bool) -> None:
    """Use one matrix thread, as several stall on small matrices; spare the garbage collector."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    if whole_process:
        gc.set_threshold(50_000)
        atexit.register(gc.freeze)


def _guarded(handler: Callable[[Any], int], arguments: argparse.Namespace) -> int:
    """Run a command and turn foreseen failures into messages and exit codes."""
    import warnings

    from flowsim.errors import CaseError, ConvergenceError, FlowsimError, ValidityWarning

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ValidityWarning)  # the result carries them
            return handler(arguments)
    except CaseError as error:
        complain(error.lines())
        return EXIT_INPUT
    except ConvergenceError as error:
        complain([f"flowsim: not converged: {error}"])
        return EXIT_NOT_CONVERGED
    except FlowsimError as error:
        complain([f"flowsim: {error}"])
        return EXIT_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except OSError as error:
        complain([f"flowsim: {error.filename or 'output'}: {error.strerror or error}"])
        return EXIT_INPUT
    except KeyboardInterrupt:
        complain(["flowsim: stopped; nothing was written"])
        return EXIT_STOPPED
