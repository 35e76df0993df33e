"""The main job, as a user runs it: real processes, real files."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest

CASES = Path(__file__).parent.parent / "cases"
NAMES = [
    "supply_flow",
    "supply_face_velocity",
    "supply_fan_pressure",
    "supply_filter_pressure_drop",
    "exhaust_flow",
    "exhaust_fan_pressure",
    "front_outflow",
    "front_velocity_mean",
    "front_velocity_min",
    "front_velocity_max",
    "front_inflow_share",
    "leak_flow",
    "chamber_pressure",
    "plenum_pressure_mean",
    "plenum_pressure_spread",
    "plate_pressure_drop",
    "draw_ratio",
    "draw_rsd",
    "downflow_mean",
    "downflow_min",
    "downflow_max",
    "downflow_rsd",
    "compartment_pressure",
    "slit_velocity_min",
    "slit_velocity_mean",
    "bypass_share",
    "tube_draw_ratio",
    "mass_balance_error",
    "balance_margin",
    "draught_margin",
    "air_change_time",
]


def flowsim(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the installed command line in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "flowsim.cli", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, dict[str, Any]]:
    """Run the mirror bench once; return folder, output and summary."""
    folder = tmp_path_factory.mktemp("bench")
    done = flowsim(folder, "run", str(CASES / "mirror_bench.toml"))
    assert done.returncode == 0, done.stderr
    result = folder / "mirror_bench.result"
    return result, done.stdout, json.loads((result / "summary.json").read_text("utf-8"))


def test_main_job_writes_every_promised_file(bench: tuple[Path, str, dict[str, Any]]) -> None:
    """Summary, report page, mesh files and pictures."""
    names = {str(path.relative_to(bench[0])) for path in bench[0].rglob("*") if path.is_file()}
    assert {"summary.json", "report.html", "fields.vtu", "plenum.vtu"} <= names
    pictures = ("side_section", "downflow_plan", "front_profile", "plate_draw", "network_sketch")
    assert {f"figures/{name}.png" for name in pictures} <= names


def test_summary_carries_the_fixed_names(bench: tuple[Path, str, dict[str, Any]]) -> None:
    """Outside checks read these."""
    summary = bench[2]
    assert set(NAMES) <= set(summary["quantities"])
    assert {
        "format",
        "case",
        "quantities",
        "checks",
        "residuals",
        "assumptions",
        "warnings",
    } <= set(summary)
    for quantity in summary["quantities"].values():
        assert set(quantity) == {"value", "unit", "meaning"}
    assert {check["state"] for check in summary["checks"]} <= {"met", "not met", "not shown"}


def test_balance_margin_leads_what_is_printed(bench: tuple[Path, str, dict[str, Any]]) -> None:
    """The front is a small difference of two large flows, so this comes first."""
    text = bench[1]
    assert text.index("balance margin") < text.index("supply flow")
    assert next(iter(bench[2]["quantities"])) == "balance_margin"


def test_output_says_which_pressures_an_instrument_shows(
    bench: tuple[Path, str, dict[str, Any]],
) -> None:
    """A phone barometer resolves 1 Pa: the front no, plenum and tray yes."""
    # common practice, no source
    lines = {
        line.strip().split("  ")[0]: line for line in bench[1].splitlines() if "barometer" in line
    }
    assert "neither" in lines["chamber pressure"]
    assert "yes" in lines["plenum pressure mean"]
    assert "neither" not in lines["compartment pressure"]


def test_mesh_file_carries_the_flow_that_the_summary_states(
    bench: tuple[Path, str, dict[str, Any]],
) -> None:
    """Downflow through the layer under the filter carries the supply's flow."""
    mesh = meshio.read(bench[0] / "fields.vtu")
    points = mesh.points[mesh.cells[0].data]
    centres, spans = points.mean(axis=1), np.ptp(points, axis=1)
    velocity = mesh.cell_data["velocity [m/s]"][0]
    middle = np.abs(centres[:, 2] - 0.40) < 0.51 * spans[0, 2]
    layer = middle & (centres[:, 2] == centres[middle, 2].min())
    flow = -(velocity[layer, 2] * spans[layer, 0] * spans[layer, 1]).sum()
    stated = bench[2]["quantities"]["supply_flow"]["value"]
    assert flow == pytest.approx(stated, rel=1e-4)


def test_same_case_gives_the_same_bytes(bench: tuple[Path, str, dict[str, Any]]) -> None:
    """A second run in another process reproduces the summary."""
    again = flowsim(bench[0].parent, "run", str(CASES / "mirror_bench.toml"), "--out", "again")
    assert again.returncode == 0
    first = (bench[0] / "summary.json").read_bytes()
    assert first == (bench[0].parent / "again" / "summary.json").read_bytes()


def test_missed_limit_is_a_result_unless_strict(tmp_path: Path) -> None:
    """Exit 0 without, 4 with --strict, also for "not shown"."""
    change = ("--set", "limits.draw_ratio.max=1.01", "--set", "numerics.cells=[16, 8, 10]")
    case = str(CASES / "mirror_bench.toml")
    assert flowsim(tmp_path, "run", case, *change).returncode == 0
    assert flowsim(tmp_path, "run", case, "--strict", *change).returncode == 4


def test_starter_case_runs_as_it_is(tmp_path: Path) -> None:
    """Nothing to fill in before the first picture."""
    assert flowsim(tmp_path, "example", "first.toml").returncode == 0
    assert flowsim(tmp_path, "check", "first.toml").returncode == 0
    assert (
        flowsim(tmp_path, "run", "first.toml", "--set", "numerics.cells=[16, 8, 10]").returncode
        == 0
    )
    assert (tmp_path / "first.result" / "report.html").is_file()


def test_compare_varies_a_key_and_draws_one_picture(tmp_path: Path) -> None:
    """A table of differences and a picture."""
    done = flowsim(
        tmp_path,
        "compare",
        str(CASES / "mirror_bench.toml"),
        "--vary",
        "openings.front.height=120 mm,200 mm",
        "--set",
        "numerics.cells=[16, 8, 10]",
    )
    assert done.returncode == 0, done.stderr
    assert "front velocity mean" in done.stdout
    assert len(list((tmp_path / "mirror_bench.comparison").glob("*.png"))) == 1


@pytest.mark.parametrize("script", ["side_port_gradient.py", "front_openings.py"])
def test_question_scripts_end_in_a_picture_and_a_sentence(tmp_path: Path, script: str) -> None:
    """The user's two named questions."""
    done = subprocess.run(
        [sys.executable, str(CASES.parent / "scripts" / script), "--out", "answer"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert len(list((tmp_path / "answer").glob("*.png"))) == 1
    assert done.stdout.strip().splitlines()[-1].endswith(".")
