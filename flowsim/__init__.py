"""Airflow in a home-built clean-air work enclosure: from a case file to figures and pictures.

The names below are the whole public face; what they need is loaded when they are first used, so
that the command line answers a call for help at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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
    "RangeError",
    "Result",
    "ValidityWarning",
    "case_from_mapping",
    "change_case",
    "compare",
    "read_case",
    "run_case",
    "vary",
    "write_comparison",
    "write_report",
]

_HOMES = {
    "Case": "flowsim.case.schema",
    "CaseError": "flowsim.errors",
    "Check": "flowsim.simulate.result",
    "ConvergenceError": "flowsim.errors",
    "FlowsimError": "flowsim.errors",
    "OutputError": "flowsim.errors",
    "Quantity": "flowsim.simulate.result",
    "RangeError": "flowsim.errors",
    "Result": "flowsim.simulate.result",
    "ValidityWarning": "flowsim.errors",
    "case_from_mapping": "flowsim.case.read",
    "change_case": "flowsim.case.read",
    "compare": "flowsim.plan.compare",
    "read_case": "flowsim.case.read",
    "run_case": "flowsim.simulate.run",
    "vary": "flowsim.plan.compare",
    "write_comparison": "flowsim.plan.compare",
    "write_report": "flowsim.report.write",
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
