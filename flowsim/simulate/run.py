"""One case from reading to result."""

from __future__ import annotations

import warnings

from flowsim.case.schema import Case
from flowsim.errors import ValidityWarning
from flowsim.simulate.coupling import Coupled, couple
from flowsim.simulate.indicators import Readings, key_figures
from flowsim.simulate.layout import lay_out
from flowsim.simulate.readings import (
    branch_states,
    compartment_states,
    downflow,
    node_pressures,
    opening_profiles,
    plate_draw,
    tube_draw,
)
from flowsim.simulate.remarks import assumptions, doubts, indicative_names, warnings_of
from flowsim.simulate.result import Result
from flowsim.simulate.verdicts import judge

__all__ = ["run_case"]


def _residuals(state: Coupled) -> dict[str, float]:
    """Return what each solver left over, and how often it went round."""
    left = {
        "coupling": state.residual,
        "coupling_rounds": float(state.iterations),
        "network_mass": state.solution.mass_residual,
        "network_pressure": state.solution.pressure_residual,
    }
    for name, header in (("plenum", state.header), ("supply_box", state.supply_box)):
        if header is not None:
            left[f"{name}_mass"] = header.mass_residual
            left[f"{name}_momentum"] = header.momentum_residual
    if state.field is not None:
        left["chamber_divergence"] = state.field.divergence
    return left


def run_case(case: Case) -> Result:
    """Compute one case.

    Parameters
    ----------
    case : Case
        The case, SI.

    Returns
    -------
    Result
        Key figures, verdicts, fields, residuals, assumptions and warnings.

    Raises
    ------
    ConvergenceError
        If a solver does not reach its tolerance.
    RangeError
        If the case asks for the impossible.
    """
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", ValidityWarning)
        state = couple(lay_out(case))
        readings = Readings(
            state,
            opening_profiles(state),
            compartment_states(state),
            branch_states(state),
            plate_draw(state),
            downflow(state),
        )
        figures = key_figures(readings, indicative_names(state, readings.openings))
        remarks = warnings_of(readings, figures)
    spoken = [str(item.message) for item in caught if item.category is ValidityWarning]
    for item in caught:
        if item.category is not ValidityWarning:
            warnings.warn_explicit(item.message, item.category, item.filename, item.lineno)
    return Result(
        case=case,
        fidelity=case.numerics.fidelity,
        quantities=figures,
        checks=judge(case, figures, doubts(state, figures)),
        residuals=_residuals(state),
        assumptions=assumptions(state),
        warnings=tuple(dict.fromkeys([*remarks, *spoken])),
        nodes=node_pressures(state),
        branches=readings.branches,
        openings=readings.openings,
        compartments=readings.compartments,
        plate=readings.plate,
        tube=tube_draw(state),
        field=state.field,
        filter_patch=state.layout.filter_patch,
        measure_height=case.measure_height,
        downflow=readings.downflow,
    )
