"""Two threads at once find what one finds, bit by bit, and do not wait for each other."""

from __future__ import annotations

import gc
import threading
import time
import weakref
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from transport_flows import bench_field, bench_problem, even_flow, one_cell, rich_problem

from flowsim._arrays import FloatArray, IntArray
from flowsim._compile import compiled
from flowsim.transport._once import Beside, Once
from flowsim.transport.adjoint import all_escape_shares, escape_shares, share_with_spread
from flowsim.transport.faces import wall_faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.recovery import recovery
from flowsim.transport.release import patch_weights
from flowsim.transport.scalar import mean_age, steady
from flowsim.transport.transient import transient


def problems() -> list[TransportProblem]:
    """Return problems of two sizes, so that the work space is changed between them."""
    small, large = bench_field((12, 9, 10)), bench_field((16, 12, 14))
    made = [
        bench_problem(field, spread, settling=fall)
        for field in (small, large)
        for spread in (1e-4, 5e-3)
        for fall in (0.0, 2e-3)
    ]
    return [*made, rich_problem("linear"), rich_problem("monotone")]


def answers(problem: TransportProblem) -> list[FloatArray]:
    """Return an answer of every kind."""
    source = one_cell(problem, (3, 4, 9))
    place = patch_weights(problem.field.grid, 0.55, 0.65, 0.05, 0.1, 0.0)
    room = wall_faces(problem.field.grid, "front")
    return [
        steady(problem, 1.0, source),
        escape_shares(problem, "front"),
        mean_age(problem),
        transient(problem, 1.0, [0.0, 0.5], longest_step=0.1).concentration,
        recovery(problem, [place], room=room, longest=3.0)[1],
    ]


def test_two_threads_give_the_same_bits_as_one() -> None:
    alone = [answers(problem) for problem in problems()]
    with ThreadPoolExecutor(2) as pool:
        together = list(pool.map(answers, problems()))
    for one, two in zip(alone, together, strict=True):
        for first, second in zip(one, two, strict=True):
            assert np.array_equal(first, second, equal_nan=True)


def test_one_problem_may_serve_two_threads() -> None:
    problem, fresh = rich_problem("linear"), rich_problem("linear")
    expected = answers(fresh)
    ready = threading.Barrier(2)

    def start(_: int) -> list[FloatArray]:
        ready.wait()
        return answers(problem)

    with ThreadPoolExecutor(2) as pool:
        for found in pool.map(start, range(2)):
            for first, second in zip(found, expected, strict=True):
                assert np.array_equal(first, second, equal_nan=True)


@compiled
def _spin(flags: FloatArray, where: IntArray, rounds: int) -> int:
    """Wait for another thread's sign; writing where it may lie, so that it is read anew."""
    for number in range(rounds):
        if flags[0] > 0.0:
            return number
        flags[where[number & 1]] += 0.0
    return -1


def test_kernels_let_other_threads_run() -> None:
    flags, where = np.zeros(3), np.array([1, 2])
    _spin(np.ones(3), where, 1)  # compiled before it matters
    seen: list[int] = []
    waiting = threading.Thread(target=lambda: seen.append(_spin(flags, where, 2 * 10**9)))
    waiting.start()
    time.sleep(0.01)
    flags[0] = 1.0  # too late, were the kernel to hold the interpreter until it is done
    waiting.join()
    assert seen[0] >= 0


def test_value_is_found_once_and_is_the_same_for_all() -> None:
    count, ready = [0], threading.Barrier(2)

    class Thing:
        @Once
        def value(self) -> list[int]:
            """Return a new list."""
            ready.wait(10.0)  # both are inside: no lock keeps one out
            count[0] += 1
            return [count[0]]

    thing = Thing()
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(lambda _: thing.value, range(2))
    assert first is second is thing.value
    assert isinstance(Thing.value, Once)


def test_values_beside_an_object_are_few_and_go_with_it() -> None:
    kept: Beside[list[int]] = Beside(2)
    owner = bench_field((3, 3, 3))
    first = kept.get(owner, 1, lambda: [1])
    assert kept.get(owner, 1, lambda: [9]) is first
    for key in (2, 3):
        kept.get(owner, key, lambda: [0])
    assert kept.get(owner, 1, lambda: [9]) == [9]  # the oldest went first
    gone = weakref.ref(owner)
    del owner
    gc.collect()
    assert gone() is None


def test_problems_on_one_field_share_its_order_by_settling_velocity() -> None:
    field = even_flow((3, 4, 6), (1.0, 1.0, 1.0), 0.1, axis=2)  # upwards; heavy particles fall
    still, other, falling = (TransportProblem(field, 1e-3, v) for v in (0.0, 0.0, 0.3))
    assert still.forward.order is other.adjoint.order
    assert not np.array_equal(still.forward.order.cells, falling.forward.order.cells)


@pytest.mark.parametrize("scheme", ["linear", "monotone"])
def test_tolerance_is_passed_on(scheme: str) -> None:
    problem = rich_problem(scheme)
    for ask in (
        lambda t: escape_shares(problem, "front", tolerance=t),
        lambda t: all_escape_shares(problem, tolerance=t)["floor"],
        lambda t: mean_age(problem, tolerance=t),
        lambda t: share_with_spread(problem, "front", tolerance=t).value,
        lambda t: transient(problem, 1.0, [0.0, 0.4], tolerance=t).concentration[-1],
    ):
        tight, loose, looser = ask(1e-13), ask(1e-7), ask(1e-4)
        scale = np.nanmax(np.abs(tight))
        errors = [float(np.nanmax(np.abs(found - tight))) / scale for found in (loose, looser)]
        assert 0.0 < errors[0] < 1e-5
        assert errors[0] < errors[1] < 2e-2
