from __future__ import annotations

import numpy as np
import pytest

from flowsim.errors import RangeError
from flowsim.plenum.ports import HeaderPort, map_ports, overlap_share, port_velocities

SIZE = (1.2, 0.6, 0.1)
CELLS = (12, 6)


@pytest.mark.parametrize(("start", "end"), [(0.0, 1.2), (0.13, 0.87), (0.41, 0.42), (0.1, 0.2)])
def test_shares_cover_the_stretch_and_nothing_else(start, end):
    share = overlap_share(12, 1.2, start, end)
    centre = (np.arange(12) + 0.5) * 0.1
    touched = (centre + 0.05 > start + 1e-9) & (centre - 0.05 < end - 1e-9)
    # definition, exact
    assert share.sum() == pytest.approx(1.0, rel=1e-14)
    assert np.array_equal(share > 0.0, touched)


@pytest.mark.parametrize(
    ("wall", "index", "sign"), [("left", 0, -1), ("right", 1, 1), ("front", 2, -1), ("back", 3, 1)]
)
def test_outflow_leaves_through_its_wall(wall, index, sign):
    ports = map_ports((HeaderPort(wall, 0.1, 0.4),), SIZE, CELLS)
    net, arriving, walls = port_velocities(ports, np.array([0.03]), (0.1, 0.1, 0.1))
    # definition: the wall's velocities carry the flow, outwards
    assert sign * walls[index].sum() * 0.1 * 0.1 == pytest.approx(0.03, rel=1e-12)
    assert not np.any(net)
    assert not np.any(arriving)
    assert sum(np.any(other) for other in walls) == 1


def test_bottom_port_takes_from_the_floor_and_gives_arriving_air():
    ports = map_ports((HeaderPort("bottom", (0.2, 0.1), (0.7, 0.4)),), SIZE, CELLS)
    drawn, still, _ = port_velocities(ports, np.array([0.03]), (0.1, 0.1, 0.1))
    blown, arriving, _ = port_velocities(ports, np.array([-0.03]), (0.1, 0.1, 0.1))
    # definition, exact
    assert drawn.sum() * 0.01 == pytest.approx(-0.03, rel=1e-12)
    assert not np.any(still)
    assert np.array_equal(blown, arriving)
    assert ports.open_area[0] == pytest.approx(0.15, rel=1e-12)


@pytest.mark.parametrize(
    ("port", "message"),
    [
        (HeaderPort("left", 0.4, 0.4), "not be empty"),
        (HeaderPort("left", 0.1, 0.9), "within 0 to 0.6 m"),
        (HeaderPort("front", -0.1, 0.9), "within 0 to 1.2 m"),
        (HeaderPort("bottom", (0.1, 0.1), (0.5, 0.9)), "within 0 to 0.6 m"),
        (HeaderPort("bottom", 0.1, 0.5), "must be pairs"),
        (HeaderPort("back", (0.1, 0.1), 0.5), "must be numbers"),
        (HeaderPort("roof", 0.1, 0.5), "unknown wall"),
        (HeaderPort("left", float("nan"), 0.5), "within 0 to 0.6 m"),
    ],
)
def test_impossible_port_is_refused(port, message):
    with pytest.raises(RangeError, match=message):
        map_ports((port,), SIZE, CELLS)
