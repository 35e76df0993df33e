"""Which front opening is best: how does its height change the way the front blows?

Usage: ``python scripts/front_openings.py [--out FOLDER]``

Runs the mirror bench with fronts of 80 to 320 mm height, at fidelity "volume" because the tray
stands in the way of the air. Ends in one picture and one sentence.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from cycler import cycler
from matplotlib import color_sequences, rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

import flowsim

CASE = Path(__file__).parent.parent / "cases" / "mirror_bench.toml"
HEIGHTS = (80, 120, 160, 200, 240, 280, 320)  # mm

Results = list[tuple[int, flowsim.Result]]


def run_all() -> Results:
    """Run the bench at every height."""
    results = []
    for height in HEIGHTS:
        changes = {"openings.front.height": f"{height} mm", "numerics.fidelity": "volume"}
        results.append((height, flowsim.run_case(flowsim.read_case(CASE, changes))))
    return results


def draw(results: Results, path: Path) -> None:
    """Save front velocity and the draught that turns the front over the height of the opening."""
    figure = Figure(figsize=(8.0, 5.6), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    upper, lower = figure.subplots(2, 1, sharex=True)
    heights = [height for height, _ in results]
    low = np.array([result["front_velocity_min"] for _, result in results])
    high = np.array([result["front_velocity_max"] for _, result in results])
    mean = np.array([result["front_velocity_mean"] for _, result in results])
    upper.fill_between(heights, low, high, alpha=0.3, label="slowest to fastest station")
    upper.plot(heights, mean, marker="o", label="mean")
    upper.axhline(0.0, color="0.3", linewidth=0.8)
    upper.set_ylabel("velocity out of the front [m/s]")
    upper.set_title("How does the height of the front change the way it blows? Mirror bench")
    upper.legend(fontsize="small")
    draught = [result["draught_margin"] for _, result in results]
    lower.plot(heights, draught, marker="s", color="C1")
    lower.set_ylabel("draught that turns\nthe front [m/s]")
    lower.set_xlabel("height of the front opening [mm]")
    lower.set_ylim(0.0, 1.2 * max(draught))
    doubtful = [height for height, result in results if result["crossflow_ratio"] > 0.5]
    if doubtful:
        for axes in (upper, lower):
            axes.axvspan(doubtful[0] - 20, heights[-1] + 10, color="0.9", zorder=0)
        lower.text(
            doubtful[0],
            0.05 * max(draught),
            "grey: q/E above 0.5,\ntrust the sign, not the size",
            fontsize="small",
        )
    figure.savefig(path)


def table(results: Results) -> None:
    """Print one row per height."""
    print(
        f"{'height':>8s} {'mean':>11s} {'slowest':>11s} {'fastest':>11s} {'draught':>11s} "
        f"{'drift':>7s} {'q/E':>6s}"
    )
    for height, result in results:
        mean, low = result["front_velocity_mean"], result["front_velocity_min"]
        high, draught = result["front_velocity_max"], result["draught_margin"]
        margin, ratio = result["balance_margin"], result["crossflow_ratio"]
        print(
            f"{height:5d} mm {mean:7.3f} m/s {low:7.3f} m/s {high:7.3f} m/s {draught:7.3f} m/s "
            f"{100 * margin:5.1f} % {ratio:6.2f}"
        )


def sentence(results: Results) -> str:
    """Return what was found."""
    trusted = [height for height, result in results if result["crossflow_ratio"] <= 0.5]
    where = f"up to {max(trusted)} mm" if trusted else "at none of these heights"
    (lowest, first), (highest, last) = results[0], results[-1]
    margin = 100 * float(np.mean([result["balance_margin"] for _, result in results]))
    return (
        f"A lower front withstands more draught ({first['draught_margin']:.2f} m/s at {lowest} mm, "
        f"{last['draught_margin']:.2f} m/s at {highest} mm) because it blows faster, but supply or "
        f"exhaust may drift by about the same {margin:.0f} % at every height; {where} the drive is "
        "more than twice what the passing air takes."
    )


def main() -> None:
    """Run, print a table, save the picture, say what was found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path("front_openings"))
    folder = parser.parse_args().out
    folder.mkdir(parents=True, exist_ok=True)
    results = run_all()
    table(results)
    path = folder / "front_openings.png"
    with rc_context({"axes.prop_cycle": cycler(color=color_sequences["petroff10"])}):
        draw(results, path)
    print(f"picture: {path}")
    print(sentence(results))


if __name__ == "__main__":
    main()
