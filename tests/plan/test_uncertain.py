"""Probabilities, quantiles and inputs that matter: on known models, and on a small bench."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from benches import bench
from scipy.stats import binomtest

from flowsim.batch.point import Row, base_start, run_point
from flowsim.case.read import case_hash, change_case
from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, OutputError, RangeError
from flowsim.plan.odds import chance_of, chance_rank, influences_of, quantile, quantile_error
from flowsim.plan.tolerance import Tolerance
from flowsim.plan.uncertain import drawn_odds, uncertain
from flowsim.plan.usual_tolerances import usual_tolerances
from flowsim.report.figures_uncertain import uncertain_pictures, uncertain_sheets
from flowsim.report.uncertain_page import uncertain_page
from flowsim.report.uncertain_text import uncertain_text
from flowsim.report.uncertainty import LimitOdds, Uncertainty
from flowsim.report.write_uncertain import uncertain_document, write_uncertain
from flowsim.simulate.run import run_case

LIMIT = 1.2
CASE = bench(limits={"draw_ratio": {"max": LIMIT}}, numerics={"fidelity": "network"})
KEYS = ("chamber.width", "chamber.depth", "chamber.height")
UNIT = tuple(Tolerance(key, 0.5, 0.0, 1.0, "even", "length") for key in KEYS)
"""Three inputs that run evenly from 0 to 1."""

Model = Callable[[Sequence[float]], float]


def _asked(model: Model, doubt: float = 0.0, fails: float = math.inf) -> Any:
    """Return a stand-in that computes a figure from the inputs, judges it, and may fail."""

    def row(values: Sequence[float]) -> Row:
        figure = model(values) if values else 0.0
        if figure > fails:
            return Row("not converged", error="no solution")
        state = "met" if figure <= LIMIT - doubt else "not met" if figure > LIMIT + doubt else ""
        return Row("done", {"draw_ratio": figure}, {"draw_ratio": state or "not shown"})

    def ask(case: Case, changes: Sequence[Any], keep: Sequence[str]) -> list[Row]:
        assert case is CASE
        assert keep
        return [row(list(item.values())) for item in changes]

    return ask


def _limit(found: Uncertainty) -> LimitOdds:
    (limit,) = found.limits
    return limit


def _sum(values: Sequence[float]) -> float:
    return values[0] + values[1] + 0.3 * values[2]


def test_interval_is_the_exact_binomial_one() -> None:
    for count, total in ((0, 24), (1, 24), (13, 24), (24, 24), (250, 256)):
        # scipy.stats.binomtest, method "exact": Clopper and Pearson 1934
        exact = binomtest(count, total).proportion_ci(0.95, "exact")
        found = chance_of(count, total)
        assert (found.low, found.high) == pytest.approx((exact.low, exact.high), abs=1e-12)


def test_impossible_counts_are_refused() -> None:
    with pytest.raises(RangeError, match="cannot be"):
        chance_of(5, 4)


@pytest.mark.parametrize("count", [24, 64])
def test_interval_holds_the_true_probability(count: int) -> None:
    """P(x + y <= 1.2) = 1 - 0.8^2/2 = 0.68 for x and y even between 0 and 1."""
    hits = 0
    for seed in range(100):
        ask = _asked(lambda values: values[0] + values[1])
        met = _limit(drawn_odds(CASE, UNIT[:2], count, seed, ask)).met
        hits += met.low <= 0.68 <= met.high
    assert hits >= 90


def test_single_input_has_rank_one() -> None:
    for sign in (1.0, -1.0):
        ask = _asked(lambda values, sign=sign: math.exp(3.0 * sign * values[0]))
        (found,) = _limit(drawn_odds(CASE, UNIT[:1], 50, 1, ask)).influences
        assert (found.rank, found.low, found.high, found.named) == (sign, sign, sign, True)


def test_linear_model_ranks_inputs_by_their_coefficients() -> None:
    # judge: 200,000 independent draws of the same model, error 0.002
    generator = np.random.default_rng(1)
    inputs = generator.random((200_000, 3))
    exact, _ = influences_of(KEYS, inputs, inputs @ np.array([0.2, -1.0, 0.5]))
    for seed in range(20):
        ask = _asked(lambda values: 0.2 * values[0] - 1.0 * values[1] + 0.5 * values[2])
        found = _limit(drawn_odds(CASE, UNIT, 400, seed, ask)).influences
        assert [item.key for item in found] == [KEYS[1], KEYS[2], KEYS[0]]
        assert [item.rank for item in found] == pytest.approx(
            [item.rank for item in exact], abs=0.02
        )


def test_rank_interval_holds_the_true_rank_correlation() -> None:
    """Of x + y, two even inputs, with x: 0.7, by integration."""
    # rho = 12 E[x F(x + y)] - 3 with F the triangular distribution: E = 37/120
    inside = 0
    for seed in range(100):
        ask = _asked(lambda values: values[0] + values[1])
        first = _limit(drawn_odds(CASE, UNIT[:2], 100, seed, ask)).influences[0]
        inside += first.low <= 0.7 <= first.high
    assert inside >= 90


def test_inputs_without_effect_are_rarely_named() -> None:
    tolerances = tuple(replace(UNIT[0], key=f"input {k}") for k in range(12))
    false = 0
    for seed in range(60):
        ask = _asked(lambda values: values[0])
        named = _limit(drawn_odds(CASE, tolerances, 60, seed, ask)).named
        assert named[0].key == "input 0"
        false += len(named) > 1
    assert false <= 3  # one in twenty at most


def test_chance_line_falls_with_draws_and_rises_with_inputs() -> None:
    # Student's t, table: t(0.975, 98) = 1.984, so r = 1.984/sqrt(98 + 1.984^2)
    assert chance_rank(100, 1) == pytest.approx(0.1966, abs=2e-4)
    assert chance_rank(1000, 1) < chance_rank(100, 1) < chance_rank(100, 20)
    assert chance_rank(3, 5) == 1.0


def test_figure_that_stands_still_or_is_missing_names_no_input() -> None:
    inputs = np.arange(20.0).reshape(10, 2)
    assert influences_of(("a", "b"), inputs, np.ones(10))[0] == ()
    assert influences_of(("a", "b"), inputs, np.full(10, np.nan))[0] == ()
    found, _ = influences_of(("a", "b"), inputs, np.array([-np.inf, *range(9)]))
    assert found[0].rank == 1.0


def test_why_no_input_is_named_is_said() -> None:
    still = drawn_odds(CASE, UNIT, 24, 1, _asked(lambda _: 1.0))
    assert "draw ratio: none, it stands still" in uncertain_text(still)


def test_not_shown_is_counted_apart() -> None:
    found = _limit(drawn_odds(CASE, UNIT, 200, 1, _asked(_sum, doubt=0.1)))
    assert found.not_shown.count > 0
    assert found.met.count + found.not_met.count + found.not_shown.count == 200
    assert found.met.share < chance_of(200 - found.not_met.count, 200).share


def test_draws_without_an_answer_widen_the_interval() -> None:
    whole = drawn_odds(CASE, UNIT, 200, 1, _asked(_sum))
    lame = drawn_odds(CASE, UNIT, 200, 1, _asked(_sum, fails=1.8))
    assert lame.unanswered == lame.statuses["not converged"] > 0
    assert lame.errors == ("no solution",)
    met, all_met = _limit(lame).met, _limit(whole).met
    assert met.total == 200 - lame.unanswered
    assert met.low <= all_met.low < all_met.high < met.high
    assert "gave no answer" in uncertain_text(lame)


def test_nothing_with_an_answer_is_an_error() -> None:
    def ask(case: Case, changes: Sequence[Any], keep: Sequence[str]) -> list[Row]:
        del case, keep
        bad = Row("not converged", error="worst branch: front")
        return [bad if item else Row("done") for item in changes]

    with pytest.raises(ConvergenceError, match=r"none of the 24 draws.*worst branch: front"):
        drawn_odds(CASE, UNIT, 24, 1, ask)


def test_case_without_a_solution_is_named_before_anything_is_drawn() -> None:
    def ask(case: Case, changes: Sequence[Any], keep: Sequence[str]) -> list[Row]:
        del case, keep
        assert changes == [{}]
        return [Row("not converged", error="worst branch: front")]

    with pytest.raises(ConvergenceError, match="the case itself, nothing drawn"):
        drawn_odds(CASE, UNIT, 24, 1, ask)


@pytest.mark.parametrize(("tolerances", "count"), [((), 24), (UNIT, 9), (UNIT, 2_000_000)])
def test_nothing_to_draw_is_refused(tolerances: tuple[Tolerance, ...], count: int) -> None:
    with pytest.raises(RangeError, match=r"has a tolerance|expected 10 to"):
        drawn_odds(CASE, tolerances, count, 1, _asked(_sum))


def test_same_seed_same_answer() -> None:
    first, again, other = (drawn_odds(CASE, UNIT, 50, seed, _asked(_sum)) for seed in (1, 1, 2))
    assert first == again
    assert first.figures != other.figures


def test_quantiles_are_those_of_the_distribution() -> None:
    (spread,) = drawn_odds(CASE, UNIT[:1], 1000, 1, _asked(lambda values: values[0])).figures
    assert spread.quantiles == pytest.approx((0.05, 0.5, 0.95), abs=2e-3)


def test_interval_of_a_quantile_holds_it() -> None:
    generator = np.random.default_rng(5)
    hits = 0
    for _ in range(200):
        low, high = quantile_error(generator.normal(size=100), 0.5)
        assert low is not None
        assert high is not None
        hits += low <= 0.0 <= high
    assert hits >= 185


def test_too_few_draws_give_no_end_of_a_quantile() -> None:
    low, high = quantile_error(np.arange(24.0), 0.05)
    assert low is None
    assert high is not None


def test_infinite_values_have_quantiles() -> None:
    values = np.array([-np.inf, -np.inf, 1.0, 2.0, 3.0])
    assert quantile(values, 0.05) == -np.inf
    assert quantile(values, 0.95) == 3.0


# --- a small bench, run for real ---------------------------------------------------------------


def _in_this_process(case: Case, changes: Sequence[Any], keep: Sequence[str]) -> list[Row]:
    start = base_start(case) if any(changes) else None
    return [run_point(case, start, item, keep) for item in changes]


SMALL = bench(
    room={"draught": 0.1},
    limits={"front_velocity_mean": {"min": 0.25}, "plate_pressure_drop": {"max": 60.0}},
    numerics={"fidelity": "network"},
)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[Uncertainty, Path]:
    """Run 24 draws of a small bench in two worker processes."""
    folder = tmp_path_factory.mktemp("small") / "out"
    return uncertain(SMALL, count=24, seed=3, folder=folder, jobs=2), folder


def test_answer_does_not_depend_on_the_workers(small: tuple[Uncertainty, Path]) -> None:
    alone = drawn_odds(SMALL, usual_tolerances(SMALL), 24, 3, _in_this_process)
    assert small[0] == alone


def test_nominal_row_is_the_single_run(small: tuple[Uncertainty, Path]) -> None:
    result = run_case(SMALL)
    assert small[0].case_hash == case_hash(SMALL)
    assert {item.name: item.nominal for item in small[0].limits} == {
        check.name: check.value for check in result.checks
    }
    assert {item.name: item.nominal_state for item in small[0].limits} == {
        check.name: check.state for check in result.checks
    }


def test_draws_are_the_stated_changes_of_the_case(small: tuple[Uncertainty, Path]) -> None:
    found, _ = small
    by_name = {item.name: item for item in found.figures}
    flow = by_name["supply_flow"]
    # supply.flow is fixed in this case, 0.26 m3/s to 5 %, so its quantiles lie inside
    assert 0.95 * 0.26 <= flow.quantiles[0] < flow.quantiles[-1] <= 1.05 * 0.26
    front = next(item for item in found.limits if item.name == "front_velocity_mean")
    assert {item.key for item in front.named} == {"supply.flow", "exhaust.flow"}
    assert found.statuses == {"done": 24}


def test_second_call_runs_nothing_again(small: tuple[Uncertainty, Path]) -> None:
    found, folder = small
    seen: list[int] = []
    again = uncertain(
        SMALL, count=24, seed=3, folder=folder, jobs=1, progress=lambda item: seen.append(item.ran)
    )
    assert again == found
    assert sum(seen) == 0


def test_files_are_written_beside_the_draws(small: tuple[Uncertainty, Path]) -> None:
    found, folder = small
    write_uncertain(found, folder)
    write_uncertain(found, folder)
    names = {item.name for item in folder.iterdir()}
    pictures = {"probabilities.png", "spreads.png", "influences.png"}
    assert names == {"draws", "uncertain.json", "uncertain.html", *pictures}
    document = json.loads((folder / "uncertain.json").read_text(encoding="utf-8"))
    assert document == uncertain_document(found)
    assert document["limits"][0]["met"]["total"] == 24
    assert document["all_limits"]["met"]["count"] <= 24


def test_folder_with_other_things_is_refused(
    small: tuple[Uncertainty, Path], tmp_path: Path
) -> None:
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(OutputError, match="holds other things"):
        write_uncertain(small[0], tmp_path)
    assert [item.name for item in tmp_path.iterdir()] == ["letter.txt"]


def test_text_names_probability_interval_and_inputs(small: tuple[Uncertainty, Path]) -> None:
    text = uncertain_text(small[0])
    front = next(item for item in small[0].limits if item.name == "front_velocity_mean")
    assert f"({100 * front.met.low:.1f} to {100 * front.met.high:.1f})" in text
    assert "at least 0.250 m/s" in text
    assert "supply.flow (+" in text
    assert "exhaust.flow (-" in text


def test_pictures_show_limits_and_inputs(small: tuple[Uncertainty, Path]) -> None:
    sheets = {sheet.name: sheet for sheet in uncertain_sheets(small[0])}
    bars = sheets["probabilities"].figure.axes[0]
    assert [label.get_text().split("\n")[0] for label in bars.get_yticklabels()][-1] == (
        "all limits at once"
    )
    assert len(sheets["spreads"].figure.axes) == len(small[0].limits)
    keys = [
        label.get_text().replace("\n", "")
        for label in sheets["influences"].figure.axes[0].get_yticklabels()
    ]
    assert set(keys) <= {item.key for item in small[0].inputs}
    assert uncertain_pictures(small[0]) == uncertain_pictures(small[0])


def test_page_escapes_and_stands_alone(small: tuple[Uncertainty, Path]) -> None:
    odd = replace(small[0], title="<script>alert(1)</script>")
    page = uncertain_page(odd, uncertain_pictures(odd))
    assert "<script>" not in page
    assert "http" not in page
    assert "drilled holes come out 0 to 0.1 mm too large" in page


def test_case_without_limits_still_has_quantiles() -> None:
    case = change_case(SMALL, {"limits": None})
    found = drawn_odds(case, usual_tolerances(case), 10, 1, _in_this_process)
    assert found.limits == ()
    assert found.together == ()
    assert "The case states no limits." in uncertain_text(found)
    assert "The case states no limits." in uncertain_page(found, uncertain_pictures(found))
