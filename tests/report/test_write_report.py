from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from report.synthetic_result import build, case, network_only
from report.synthetic_transport import with_transport

from flowsim.errors import OutputError
from flowsim.report import write as write_module
from flowsim.report.html import report_page
from flowsim.report.write import write_report
from flowsim.simulate.result import Result

HOSTILE = "<script>alert(\"x\")</script> & 'quotes' {{ 7 * 7 }}"


@pytest.fixture(scope="module")
def result() -> Result:
    return build((12, 6, 8))


def _names(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_everything_is_written(result: Result, tmp_path: Path) -> None:
    told: list[str] = []
    write_report(result, tmp_path / "out", told.append)
    assert _names(tmp_path / "out") == {
        "summary.json", "case.json", "report.html", "fields.vtu", "plenum.vtu",
        *(f"figures/{name}.png" for name in (
            "front_profile", "side_section", "downflow_plan", "plate_draw", "plate_map",
            "network_sketch")),
    }  # fmt: skip
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert told


def test_particle_paths_have_a_file_where_there_are_any(result: Result, tmp_path: Path) -> None:
    write_report(with_transport(result), tmp_path / "out")
    assert "paths.vtu" in _names(tmp_path / "out")
    write_report(with_transport(result, paths=()), tmp_path / "out")
    assert "paths.vtu" not in _names(tmp_path / "out")


def test_network_alone_writes_no_mesh(tmp_path: Path) -> None:
    write_report(network_only(), tmp_path / "deep" / "out")
    names = _names(tmp_path / "deep" / "out")
    assert names == {"summary.json", "case.json", "report.html", "figures/network_sketch.png"}


def test_an_earlier_result_is_replaced_whole(result: Result, tmp_path: Path) -> None:
    write_report(result, tmp_path / "out")
    write_report(network_only(), tmp_path / "out")
    assert "fields.vtu" not in _names(tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_report(network_only(), tmp_path / "out")
    assert (tmp_path / "out" / "summary.json").is_file()


@pytest.mark.parametrize("text", ["{}", '{"format": 1}', "not json", "[1]"])
def test_a_foreign_folder_is_refused(text: str, tmp_path: Path) -> None:
    (tmp_path / "summary.json").write_text(text, encoding="utf-8")
    with pytest.raises(OutputError, match="holds no earlier results"):
        write_report(network_only(), tmp_path)
    assert (tmp_path / "summary.json").read_text(encoding="utf-8") == text


@pytest.mark.parametrize("name", ["notes.txt", "figures/mine.svg"])
def test_notes_beside_an_earlier_result_are_not_lost(name: str, tmp_path: Path) -> None:
    write_report(network_only(), tmp_path / "out")
    (tmp_path / "out" / name).write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=re.escape(name)):
        write_report(network_only(), tmp_path / "out")
    assert (tmp_path / "out" / name).read_text(encoding="utf-8") == "mine"


def test_a_file_in_the_way_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="is a file"):
        write_report(network_only(), tmp_path / "out")
    with pytest.raises(OutputError, match="could not be written"):
        write_report(network_only(), tmp_path / "out" / "below")


@pytest.mark.parametrize("failure", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_failure_leaves_what_was_there(
    failure: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_report(network_only(), tmp_path / "out")
    before = (tmp_path / "out" / "summary.json").read_bytes()

    def fail(*_: object) -> str:
        raise failure

    monkeypatch.setattr(write_module, "report_page", fail)
    expected = OutputError if isinstance(failure, OSError) else KeyboardInterrupt
    match = "No space left" if isinstance(failure, OSError) else None
    with pytest.raises(expected, match=match):
        write_report(build((12, 6, 8)), tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out" / "summary.json").read_bytes() == before


def test_a_failure_of_the_last_step_brings_the_earlier_result_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_report(network_only(), tmp_path / "out")
    original = Path.replace

    def refuse(self: Path, target: Path) -> Path:
        if ".new-" in self.name:
            raise OSError(13, "Permission denied")
        return original(self, target)

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OutputError, match="Permission denied"):
        write_report(network_only(), tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out" / "report.html").is_file()


def test_summary_file_is_strict_json(result: Result, tmp_path: Path) -> None:
    write_report(result, tmp_path / "out")
    text = (tmp_path / "out" / "summary.json").read_text(encoding="utf-8")

    def refuse(word: str) -> None:
        raise AssertionError(word)

    assert json.loads(text, parse_constant=refuse)["format"] == 1


def _page(result: Result) -> str:
    return report_page(result, (), "0.0")


def test_page_escapes_text_from_the_case() -> None:
    hostile = replace(
        network_only(),
        case=case(title=HOSTILE, question=HOSTILE, note=HOSTILE),
        warnings=(HOSTILE,),
        assumptions=(HOSTILE,),
    )
    page = _page(hostile)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "{{ 7 * 7 }}" in page
    assert "49" not in page.split("<title>")[1].split("</title>")[0]


def test_page_needs_nothing_from_outside(result: Result, tmp_path: Path) -> None:
    write_report(result, tmp_path / "out")
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert not re.search(r"<script|<link|<iframe|https?://|url\(|javascript:", page)
    sources = re.findall(r'src="([^"]{0,22})', page)
    assert len(sources) == 6
    assert set(sources) == {"data:image/png;base64,"}


def test_page_leads_with_balance_margin_and_checks(result: Result) -> None:
    page = _page(result)
    order = ["balance margin: 12.4 %", "not met", "The question", "Key figures",
             "instrument", "Assumptions", "solvers left over", "Cautions"]  # fmt: skip
    places = [page.index(word) for word in order]
    assert places == sorted(places)


def test_page_carries_every_caution(result: Result) -> None:
    page = _page(result)
    for word in ("screening model", "fume cupboard", "Local codes", "before every use",
                 "hydrofluoric", "towards the operator", "Measure it when"):  # fmt: skip
        assert word in page


def test_page_of_a_result_without_figures_of_any_kind() -> None:
    bare = replace(
        network_only(), quantities={}, checks=(), residuals={}, warnings=(), assumptions=(),
        branches=(), openings=(),
    )  # fmt: skip
    assert "states no limits" in _page(bare)


def test_folder_left_by_a_killed_run_is_swept_away(result: Result, tmp_path: Path) -> None:
    # a process that has ended, and this one, which is still writing
    done = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"],
        capture_output=True,
        text=True,
        check=True,
    )
    dead = tmp_path / f".case.result.new-{done.stdout.strip()}-00ff00ff"
    busy = tmp_path / f".case.result.new-{os.getpid()}-00ff00ff"
    dead.mkdir()
    busy.mkdir()
    write_report(result, tmp_path / "case.result")
    assert not dead.exists()
    assert busy.exists()
