"""Command ``holes``: which holes to drill for an even draw at the least suction."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from flowsim.cli.codes import EXIT_INPUT
from flowsim.cli.command import Command
from flowsim.cli.options import add_changes, add_output, changes_of, output_folder
from flowsim.cli.speak import Heartbeat, complain, say

if TYPE_CHECKING:
    from flowsim.plan.holes import HoleWish

__all__ = ["COMMAND"]

_ENDING = ".holes"
_EXAMPLES = """\
examples:
  flowsim holes bench.toml                       draw ratio of at most 1.10
  flowsim holes bench.toml --draw-ratio 1.2 --sizes '6 mm, 8 mm'
  flowsim holes bench.toml --suction '80 Pa'     no more behind the plenum's port
  flowsim holes bench.toml --graded --tube       a graded plate and a distributor tube as well
  flowsim holes bench.toml --least-pitch '30 mm' --pattern triangular
  flowsim holes bench.toml --set work_surface.thickness='10 mm' --out results/plate
  flowsim holes bench.toml --fidelity volume

The draw ratio is the largest over the smallest draw of the plate along its width.
Results: holes.html with pictures, drill_table.csv, plate.svg and plate.dxf at full size."""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``holes``."""
    command.add_argument("case", metavar="CASE", help="case file (TOML)")
    command.add_argument(
        "--draw-ratio",
        metavar="RATIO",
        default="1.10",
        help="wanted: largest over smallest draw (default: 1.10; 1 would be perfectly even)",
    )
    command.add_argument(
        "--suction",
        metavar="PRESSURE",
        help="most suction behind the plenum's port, such as '80 Pa'",
    )
    command.add_argument(
        "--sizes",
        metavar="D1,D2,...",
        help="hole diameters at hand, such as '5 mm,6 mm,8 mm' (default: today's and usual ones)",
    )
    command.add_argument(
        "--least-pitch", metavar="LENGTH", help="centres of holes are no closer than this"
    )
    command.add_argument(
        "--pattern",
        choices=("square", "triangular"),
        help="of the holes (default: as in the case)",
    )
    command.add_argument(
        "--graded", action="store_true", help="look also at a plate graded along its width"
    )
    command.add_argument(
        "--tube", action="store_true", help="look also at a distributor tube below the plate"
    )
    add_output(command, "CASE.holes")
    add_changes(command)


def _quantity(text: str, dimension: str, option: str, faults: list[str]) -> float:
    """Return a quantity, or note what is wrong with it."""
    from flowsim.case.units import parse_quantity

    try:
        return parse_quantity(text, dimension)
    except ValueError as error:
        faults.append(f"{option}: {error}")
        return 1.0


def _ratio(text: str, faults: list[str]) -> float:
    """Return a plain number, or note what is wrong with it."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        faults.append(f"--draw-ratio: is not a number (got '{text}'); expected one such as 1.10")
        return 1.1


def _wish(arguments: argparse.Namespace) -> tuple[HoleWish | None, list[str]]:
    """Return what is wanted, or all that is wrong with it."""
    from flowsim.plan.holes import HoleWish

    faults: list[str] = []
    sizes: tuple[float, ...] = ()
    if arguments.sizes:
        separator = ";" if ";" in arguments.sizes else ","
        words = [word.strip() for word in arguments.sizes.split(separator) if word.strip()]
        sizes = tuple(_quantity(word, "length", "--sizes", faults) for word in words)
    suction = None
    if arguments.suction:
        suction = _quantity(arguments.suction, "pressure", "--suction", faults)
    pitch = 0.0
    if arguments.least_pitch:
        pitch = _quantity(arguments.least_pitch, "length", "--least-pitch", faults)
    wish = HoleWish(
        _ratio(arguments.draw_ratio, faults),
        suction,
        sizes,
        pitch,
        arguments.pattern,
        arguments.graded,
        arguments.tube,
    )
    return (None if faults else wish), faults


def _run(arguments: argparse.Namespace) -> int:
    """Choose the holes of a case."""
    from flowsim.case.read import read_case

    changes = changes_of(arguments)
    case = read_case(arguments.case, changes)
    wish, faults = _wish(arguments)
    if wish is None:
        complain(faults)
        return EXIT_INPUT
    folder = output_folder(arguments.out, arguments.case, _ENDING, ("holes.json",))
    from flowsim.plan.holes import plan_holes
    from flowsim.report.cautions import SHORT_CAUTION
    from flowsim.report.holes_text import holes_text
    from flowsim.report.write_holes import write_holes

    with Heartbeat("still solving"):
        plan = replace(plan_holes(case, wish, say=say), given=changes)
    try:
        write_holes(plan, folder, arguments.case)
        say(f"written to {folder}")
    finally:
        print(holes_text(plan), flush=True)
    print(SHORT_CAUTION, file=sys.stderr)
    return 0


COMMAND = Command(
    "holes", "choose the holes of the plate for an even draw", _EXAMPLES, _add_arguments, _run
)
"""The command ``holes``. [-]"""
