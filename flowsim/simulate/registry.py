"""The one list of key figures: name, symbol, unit, meaning, source."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["FIGURES", "KeyFigure"]


@dataclass(frozen=True)
class KeyFigure:
    """What a key figure is.

    Parameters
    ----------
    name, symbol, unit, meaning, source : str
        Fixed name, symbol in figures, SI unit ("-" for a number), one sentence, which model
        gives it.
    worst : {"largest", "smallest", "sum"}
        How the plain name follows from several openings or compartments.
    """

    name: str
    symbol: str
    unit: str
    meaning: str
    source: str
    worst: str = "largest"


def _figures(*rows: tuple[str, ...]) -> dict[str, KeyFigure]:
    """Return the rows as a mapping by name."""
    return {row[0]: KeyFigure(*row) for row in rows}


FIGURES = _figures(
    (
        "balance_margin",
        "m_b",
        "-",
        "least relative drift of supply or exhaust that turns the first part of a front; "
        "0 where part of it has turned already, 1 where only a full stop would",
        "network",
        "smallest",
    ),
    (
        "draught_margin",
        "u_d",
        "m/s",
        "head-on draught that would turn the weakest station of an outward front: "
        "sqrt(2 (E - q)/rho)",
        "front law",
        "smallest",
    ),
    ("supply_flow", "Q_s", "m3/s", "air moved by the supply, at the density at its fan", "network"),
    (
        "supply_face_velocity",
        "v_s",
        "m/s",
        "supply flow in the chamber over the area of the filter",
        "network",
    ),
    ("supply_fan_pressure", "p_sf", "Pa", "total pressure rise across the supply fan", "network"),
    (
        "supply_filter_pressure_drop",
        "dp_f",
        "Pa",
        "pressure drop across the supply filter, loading included",
        "network",
    ),
    ("exhaust_flow", "Q_e", "m3/s", "air drawn by the exhaust, at chamber density", "network"),
    ("exhaust_fan_pressure", "p_ef", "Pa", "total pressure rise across the exhaust fan", "network"),
    (
        "front_outflow",
        "Q_o",
        "m3/s",
        "net flow from the chamber to the room through the opening, negative = inflow; out at the "
        "chamber's density, in at the room's",
        "front law",
        "smallest",
    ),
    (
        "front_velocity_mean",
        "v_o",
        "m/s",
        "net flow through the opening over its area, outward positive",
        "front law",
        "smallest",
    ),
    (
        "front_velocity_min",
        "v_min",
        "m/s",
        "smallest station mean of the velocity through the opening, outward positive",
        "front law",
        "smallest",
    ),
    (
        "front_velocity_max",
        "v_max",
        "m/s",
        "largest station mean of the velocity through the opening, outward positive",
        "front law",
        "largest",
    ),
    (
        "front_inflow_share",
        "a_in",
        "-",
        "share of the opening's area through which room air comes in",
        "front law",
        "largest",
    ),
    (
        "front_in_flow",
        "Q_in",
        "m3/s",
        "air coming in through the parts of the opening that draw in",
        "front law",
        "largest",
    ),
    (
        "front_out_flow",
        "Q_out",
        "m3/s",
        "air leaving through the parts of the opening that blow out",
        "front law",
        "largest",
    ),
    (
        "front_drive",
        "E",
        "Pa",
        "total pressure of the chamber over the room's at the opening, mean over its stations",
        "front law",
        "smallest",
    ),
    (
        "crossflow_ratio",
        "q/E",
        "-",
        "largest ratio of the dynamic pressure of the air passing the opening to the drive; "
        "above 0.5 trust the sign, not the size",
        "chamber field",
        "largest",
    ),
    (
        "blocking_flow",
        "Q_b",
        "m3/s",
        "one-way flow that would stop the two-way exchange which the temperature difference "
        "drives through the opening",
        "closed form",
        "largest",
    ),
    (
        "leak_flow",
        "Q_l",
        "m3/s",
        "net flow to the room through leaks and covers, as chamber air",
        "network",
    ),
    (
        "chamber_pressure",
        "P_0",
        "Pa",
        "total pressure of the chamber over the room; its static pressure lies lower by the "
        "dynamic pressure of the moving air",
        "network",
    ),
    (
        "chamber_static_pressure",
        "p_0",
        "Pa",
        "chamber pressure less the largest dynamic pressure of the air passing an opening",
        "front law",
    ),
    (
        "plenum_pressure_mean",
        "p_p",
        "Pa",
        "static pressure in the plenum over the room, mean over the open plate",
        "plenum",
    ),
    (
        "plenum_pressure_spread",
        "dp_p",
        "Pa",
        "largest minus smallest static pressure in the plenum, station means along x",
        "plenum",
    ),
    (
        "plate_pressure_drop",
        "dp_pl",
        "Pa",
        "total pressure of the chamber less the mean static pressure of the plenum",
        "plenum",
    ),
    (
        "draw_ratio",
        "r_d",
        "-",
        "largest over smallest face velocity through the plate, station means along x, "
        "covered plate left out",
        "plenum",
    ),
    (
        "draw_rsd",
        "s_d",
        "-",
        "standard deviation of the face velocity through the open plate over its mean, "
        "weighted by open area",
        "plenum",
    ),
    (
        "choking_number",
        "M",
        "-",
        "rho (w L/h)^2 over the plate's drop: from 4 on the plenum chokes",
        "plenum",
    ),
    (
        "downflow_mean",
        "w",
        "m/s",
        "mean downward velocity at the measuring height",
        "chamber field",
    ),
    (
        "downflow_min",
        "w_min",
        "m/s",
        "smallest downward velocity at the measuring height",
        "chamber field",
    ),
    (
        "downflow_max",
        "w_max",
        "m/s",
        "largest downward velocity at the measuring height",
        "chamber field",
    ),
    (
        "downflow_rsd",
        "s_w",
        "-",
        "standard deviation (divisor n) of the downward velocity at the measuring height over "
        "its mean",
        "chamber field",
    ),
    (
        "compartment_pressure",
        "p_c",
        "Pa",
        "pressure of the compartment against the chamber, negative = below it",
        "network",
        "largest",
    ),
    (
        "slit_velocity_min",
        "v_sl,min",
        "m/s",
        "smallest velocity through the slit, into the compartment positive",
        "network",
        "smallest",
    ),
    (
        "slit_velocity_mean",
        "v_sl",
        "m/s",
        "flow through the slit over its area, into the compartment positive",
        "network",
        "smallest",
    ),
    (
        "bypass_share",
        "b",
        "-",
        "share of the air drawn under the compartment that comes in round its edge",
        "network",
        "largest",
    ),
    (
        "tube_draw_ratio",
        "r_t",
        "-",
        "largest over smallest inflow per metre along the distributor tube",
        "tube",
    ),
    (
        "vapour_escape_share",
        "eta",
        "-",
        "share of a release that leaves into the room, in use",
        "adjoint transport",
    ),
    (
        "surface_escape_share",
        "eta_s",
        "-",
        "share of what is released at the worst spot of the work surface that leaves into the "
        "room, in use",
        "adjoint transport",
    ),
    (
        "slit_escape_share",
        "eta_c",
        "-",
        "share of what is given off in a compartment that gets out through its slit",
        "compartment balance",
    ),
    (
        "evaporation_rate",
        "G",
        "kg/s",
        "vapour given off by a release",
        "evaporation laws, or stated",
    ),
    (
        "vapour_front_ppm",
        "c_f",
        "ppm",
        "vapour in the air just inside the front, largest station mean; a person breathes it "
        "diluted by the air of the room",
        "transport",
    ),
    (
        "exposure_ratio",
        "r_e",
        "-",
        "largest mean concentration round the person over its published limit",
        "two-zone room",
    ),
    (
        "lfl_share",
        "r_lfl",
        "-",
        "vapour in the exhaust duct over the lower flammable limit",
        "dilution",
    ),
    (
        "room_air_share",
        "phi",
        "-",
        "share of room air over a workpiece, in use",
        "transport",
    ),
    (
        "surface_room_air_share",
        "phi_s",
        "-",
        "share of room air over the worst spot of the work surface, in use",
        "transport",
    ),
    (
        "iso_class",
        "N",
        "-",
        "ISO 14644-1 class over a workpiece by its worst size, computed, not counted",
        "transport",
    ),
    ("iso_class_worst_size", "d_w", "m", "particle size that decides the class", "transport"),
    (
        "deposition_rate",
        "n_d",
        "1/(m2 s)",
        "particles that land on a workpiece, of the smallest size stated and larger",
        "transport",
    ),
    (
        "recovery_time",
        "t_100",
        "s",
        "from switching on, the chamber full of room air, until the worst workpiece stays below "
        "1/100 of it",
        "transport",
    ),
    ("air_age_max", "t_age", "s", "largest mean age of the air", "transport"),
    ("room_pressure", "p_r", "Pa", "pressure of the room over outdoors", "network"),
    (
        "air_change_time",
        "t_a",
        "s",
        "chamber volume over the supply flow",
        "network",
    ),
    (
        "mass_balance_error",
        "e_m",
        "-",
        "largest imbalance of any node or cell over the largest flow",
        "all models",
    ),
)
