"""A small bench and sweeps of it, as files."""

from __future__ import annotations

from pathlib import Path

CASE = """
format = 1
title = "Tiny bench"
chamber = { width = "1300 mm", depth = "650 mm", height = "750 mm" }
exhaust = { flow = "0.21 m3/s" }
limits = { balance_margin = { min = 0.1 }, draw_ratio = { max = 1.3 } }
numerics = { cells = [12, 8, 8] }
work_surface = { thickness = "12 mm", hole_diameter = "8 mm", free_area_ratio = 0.04 }

[supply]
flow = "0.26 m3/s"
filter = { width = "1220 mm", depth = "610 mm", rated_velocity = "0.45 m/s", rated_drop = "110 Pa" }

[[openings]]
label = "front"
wall = "front"
offset = "50 mm"
bottom = "0 mm"
width = "1200 mm"
height = "160 mm"

[plenum]
height = "110 mm"
ports = [{ label = "right", wall = "right", width = "400 mm", height = "90 mm" }]
"""

HEAD = """
format = 1
title = "Exhaust against front – bench of Zoë"
question = "How much exhaust does the front stand?"
case = "bench.toml"
keep = ["balance_margin", "draw_ratio"]
"""

SMALL = (
    HEAD
    + """
[[axes]]
key = "exhaust.flow"
values = ["0.18 m3/s", "0.21 m3/s", "0.24 m3/s"]

[[axes]]
key = "openings.front.height"
values = ["120 mm", "160 mm"]
"""
)

LONG = (
    HEAD
    + """
[[axes]]
key = "exhaust.flow"
from = "0.10 m3/s"
to = "0.25 m3/s"
count = 3000
"""
)

FAULTY = """
format = 1
title = "Faulty"
case = "bench.toml"
kepp = ["balance_margin"]

[[axes]]
key = "exhaust.flow"
values = ["0.18 m3/s", "2 parsec"]

[[axes]]
key = "openings.front.hight"
values = ["120 mm", "160 mm"]
"""


def write_files(folder: Path) -> None:
    """Write the bench and its sweeps."""
    texts = {"bench": CASE, "night": SMALL, "long": LONG, "faulty": FAULTY}
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
