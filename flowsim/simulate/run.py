"""One case from reading to result."""

from __future__ import annotations

import warnings
from collections.abc import Collection

from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, ValidityWarning
from flowsim.simulate.assemble import Corrections
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.coupling import Coupled, couple
from flowsim.simulate.dust import dust_assumptions
from flowsim.simulate.indicators import Readings, key_figures
from flowsim.simulate.layout import lay_out
from flowsim.simulate.needs import CARRIED, DRAW, Needs, needs_of
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
from flowsim.simulate.restraint import field_reason, restrained
from flowsim.simulate.result import Check, Quantity, Result
from flowsim.simulate.transport import transport_of
from flowsim.simulate.transport_figures import (
    doubted,
    transport_assumptions,
    transport_doubts,
    transport_warnings,
)
from flowsim.simulate.transport_result import Transport
from flowsim.simulate.verdicts import Doubt, judge

__all__ = ["run_case"]

PLATE = DRAW | {"plate_pressure_drop", "plenum_pressure_mean"}


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


def _asks(case: Case) -> bool:
    """Return whether a case asks where vapour or dust goes."""
    return bool(case.releases or case.workpieces or case.dust)


def _carried(state: Coupled, needs: Needs) -> tuple[Transport | None, tuple[str, ...]]:
    """Return what the air carries where, or in words why it is not known."""
    if not needs.any(CARRIED):
        return None, ()
    if state.field is None:
        if _asks(state.layout.case):
            return None, (
                "Fidelity network has no field: it cannot tell where vapour and dust go.",
            )
        return None, ()
    if Carrier.of(state).base.sealed_cell is not None:
        return None, (
            "Where vapour and dust go is not computed: some air of the chamber has no way out.",
        )
    try:
        return transport_of(state, needs), ()
    except ConvergenceError as error:
        if _asks(state.layout.case):
            raise
        return None, (f"Where vapour and dust go is not computed: {error}",)


def _verdicts(
    readings: Readings,
    figures: dict[str, Quantity],
    carried: Transport | None,
    needs: Needs,
    field: str | None,
) -> tuple[Check, ...]:
    """Return the verdicts against the limits of the case."""
    state = readings.state
    case = state.layout.case
    spread: dict[str, Doubt] = {}
    if needs.judged(PLATE):
        spread = {name: Doubt.even(size) for name, size in doubts(state, figures).items()}
    if carried is None or not needs.judged(CARRIED):
        return judge(case, figures, spread)
    spread |= transport_doubts(case, state.layout.grid, carried)
    return doubted(judge(case, figures, spread), carried, readings.openings, field)


def _assumptions(state: Coupled, carried: Transport | None) -> tuple[str, ...]:
    """Return what the run takes for granted."""
    found = assumptions(state)
    if carried is None:
        return found
    said = transport_assumptions(state.layout.case, carried)
    return (*found, *said, *dust_assumptions(Carrier.of(state)))


def _read(state: Coupled) -> Readings:
    """Return what the solved models show."""
    return Readings(
        state,
        opening_profiles(state),
        compartment_states(state),
        branch_states(state),
        plate_draw(state),
        downflow(state),
    )


def run_case(
    case: Case, wanted: Collection[str] | None = None, start: Coupled | Corrections | None = None
) -> Result:
    """Compute one case.

    Parameters
    ----------
    case : Case
        The case, SI.
    wanted : collection of str or None
        Names of key figures, plain or with a label in brackets; None for all. Figures that are
        neither wanted nor limited by the case come out None and are not computed: without those
        of vapour, dust and recovery the case is solved about twenty times as fast. Figures that
        are given do not depend on which others are. [-]
    start : Coupled or Corrections or None
        Solution of a similar case, with which the coupling begins where it fits; the result
        agrees with that of a cold start to the tolerance of the coupling. [-]

    Returns
    -------
    Result
        Key figures, verdicts, fields, residuals, assumptions and warnings. With `wanted`,
        verdicts on all limits of the case, and no transport.

    Raises
    ------
    ConvergenceError
        If a solver does not reach its tolerance.
    RangeError
        If the case asks for the impossible, or there is no key figure of a wanted name.
    """
    needs = needs_of(case, wanted)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", ValidityWarning)
        state = couple(lay_out(case), start)
        readings = _read(state)
        carried, silent = _carried(state, needs)
        indicative = indicative_names(state, readings.openings)
        figures = key_figures(readings, indicative, carried, needs)
        remarks = (*warnings_of(readings, figures), *silent)
        field = field_reason(state, indicative)
        if carried is not None:
            carried = restrained(carried, field)
            remarks = (*remarks, *transport_warnings(carried, readings.openings))
            if field is not None:
                remarks = (*remarks, f"No verdict on vapour and dust is called met: {field}.")
    spoken = [str(item.message) for item in caught if item.category is ValidityWarning]
    for item in caught:
        if item.category is not ValidityWarning:
            warnings.warn_explicit(item.message, item.category, item.filename, item.lineno)
    return Result(
        case=case,
        fidelity=case.numerics.fidelity,
        quantities=needs.shown(figures),
        checks=_verdicts(readings, figures, carried, needs, field),
        residuals=_residuals(state),
        assumptions=_assumptions(state, carried),
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
        transport=carried if needs.everything else None,
    )
