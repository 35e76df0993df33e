"""Airflow in a home-built clean-air work enclosure: from a case file to figures and pictures.

The names below are the whole public face; what they need is loaded when they are first used, so
that the command line answers a call for help at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flowsim.batch.plan_points import Range, sweep_from_python
    from flowsim.batch.read_sweep import read_sweep
    from flowsim.batch.sweep import sweep
    from flowsim.case.read import case_from_mapping, change_case, read_case
    from flowsim.case.schema import Case
    from flowsim.errors import (
        CaseError,
        ConvergenceError,
        FlowsimError,
        OutputError,
        RangeError,
        ValidityWarning,
    )
    from flowsim.plan.compare import compare, vary, write_comparison
    from flowsim.plan.uncertain import uncertain, write_uncertain
    from flowsim.report.write import write_report
    from flowsim.simulate.result import Check, Quantity, Result
    from flowsim.simulate.run import run_case

__version__ = "0.1.0"

__all__ = [
    "Case",
    "CaseError",
    "Check",
    "ConvergenceError",
    "FlowsimError",
    "OutputError",
    "Quantity",
    "Range",
    "RangeError",
    "Result",
    "ValidityWarning",
    "case_from_mapping",
    "change_case",
    "compare",
    "read_case",
    "read_sweep",
    "run_case",
    "sweep",
    "sweep_from_python",
    "uncertain",
    "vary",
    "write_comparison",
    "write_report",
    "write_uncertain",
]

_HOMES = {
    "Case": "flowsim.case.schema",
    "CaseError": "flowsim.errors",
    "Check": "flowsim.simulate.result",
    "ConvergenceError": "flowsim.errors",
    "FlowsimError": "flowsim.errors",
    "OutputError": "flowsim.errors",
    "Quantity": "flowsim.simulate.result",
    "Range": "flowsim.batch.plan_points",
    "RangeError": "flowsim.errors",
    "Result": "flowsim.simulate.result",
    "ValidityWarning": "flowsim.errors",
    "case_from_mapping": "flowsim.case.read",
    "change_case": "flowsim.case.read",
    "compare": "flowsim.plan.compare",
    "read_case": "flowsim.case.read",
    "read_sweep": "flowsim.batch.read_sweep",
    "run_case": "flowsim.simulate.run",
    "sweep": "flowsim.batch.sweep",
    "sweep_from_python": "flowsim.batch.plan_points",
    "uncertain": "flowsim.plan.uncertain",
    "vary": "flowsim.plan.compare",
    "write_comparison": "flowsim.plan.compare",
    "write_report": "flowsim.report.write",
    "write_uncertain": "flowsim.plan.uncertain",
}


def __getattr__(name: str) -> Any:
    """Load a public name on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module 'flowsim' has no attribute {name!r}")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Return the public names."""
    return sorted([*__all__, "__version__"])
