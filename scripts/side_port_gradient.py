"""Does an exhaust port at one end of the plenum draw unevenly, and what evens it out?

Usage: ``python scripts/side_port_gradient.py [--out FOLDER]``

Runs the mirror bench with its port at the right end, at both ends, in the back wall and with a
distributor tube, and once more with smaller holes at the same count; the exhaust is held at the
flow of the first. Ends in one picture and one sentence.
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

CASES = Path(__file__).parent.parent / "cases"
SMALL_HOLES = {"work_surface.hole_diameter": "6 mm"}
VARIANTS = (
    ("port at the right end", "mirror_bench.toml", {}),
    ("right end, 6 mm holes", "mirror_bench.toml", SMALL_HOLES),
    ("right end, tube, 150 mm plenum", "mirror_bench_tube.toml", {}),
    ("ports at both ends", "mirror_bench_both_ends.toml", {}),
    ("port in the back wall", "mirror_bench_back_port.toml", {}),
)


def run_all() -> list[tuple[str, flowsim.Result]]:
    """Run every variant at the exhaust flow of the first."""
    results: list[tuple[str, flowsim.Result]] = []
    for name, file, changes in VARIANTS:
        case = flowsim.read_case(CASES / file, changes)
        if results:
            flow = results[0][1]["exhaust_flow"]
            held = case.exhaust.model_copy(update={"fan": None, "flow": flow})
            case = case.model_copy(update={"exhaust": held})
        results.append((name, flowsim.run_case(case)))
    return results


def suction(result: flowsim.Result) -> float:
    """Return the suction wanted at the outlet of plenum or tube. [Pa]"""
    return -result.nodes["exhaust inlet"]


def draw(results: list[tuple[str, flowsim.Result]], path: Path) -> None:
    """Save the draw of the plate along the bench for all variants."""
    figure = Figure(figsize=(8.0, 4.6), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots()
    styles = ("-", "--", "-.", ":", (0, (5, 1, 1, 1)))
    for (name, result), style in zip(results, styles, strict=True):
        plate = result.plate
        station = plate.station_velocity
        label = f"{name}: ratio {result['draw_ratio']:.2f}, suction {suction(result):.0f} Pa"
        axes.plot(1000 * plate.x, station / np.nanmean(station), linestyle=style, label=label)
    axes.axhline(1.0, color="0.7", linewidth=0.8)
    axes.set_xlabel("place along the bench, from the left [mm]")
    axes.set_ylabel("draw of the plate over its mean [-]")
    axes.set_title("Does a port at one end draw unevenly? Mirror bench, same exhaust flow")
    axes.legend(loc="upper left", fontsize="small")
    axes.margins(y=0.35)
    figure.savefig(path)


def main() -> None:
    """Run, print a table, save the picture, say what was found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path("side_port_gradient"))
    folder = parser.parse_args().out
    folder.mkdir(parents=True, exist_ok=True)
    results = run_all()
    print(f"{'variant':30s} {'draw ratio':>10s} {'plate drop':>12s} {'suction':>10s}")
    for name, result in results:
        ratio, drop = result["draw_ratio"], result["plate_pressure_drop"]
        print(f"{name:30s} {ratio:10.3f} {drop:9.1f} Pa {suction(result):7.1f} Pa")
    path = folder / "side_port_gradient.png"
    with rc_context({"axes.prop_cycle": cycler(color=color_sequences["petroff10"])}):
        draw(results, path)
    print(f"picture: {path}")
    numbers = {name: (result["draw_ratio"], suction(result)) for name, result in results}
    first = numbers["port at the right end"]
    holes = numbers["right end, 6 mm holes"]
    tube = numbers["right end, tube, 150 mm plenum"]
    print(
        f"Yes: the port at one end draws {100 * (first[0] - 1):.0f} % more at its side than at the "
        f"far end; 6 mm holes bring that to {100 * (holes[0] - 1):.0f} % for "
        f"{holes[1] - first[1]:.0f} Pa more suction, the tube to {100 * (tube[0] - 1):.0f} % for "
        f"{tube[1] - first[1]:.0f} Pa more."
    )


if __name__ == "__main__":
    main()
