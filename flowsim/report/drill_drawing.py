"""The plate as a drawing at full size: SVG for the printer, R12 DXF for the machine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from html import escape

from flowsim.report.drill_result import Floor, Part, Pattern
from flowsim.report.holes_words import pattern_words

__all__ = ["plate_dxf", "plate_svg"]

MM = 1000.0
SCALE_BAR = 100.0  # mm
BELOW = 60.0  # mm of paper below the plate, for the scale bar and words
ROUND = 30.0  # mm of paper round the plate
CROSS = 12.0  # mm, half the size of the datum's cross
CENTRE = 1.5  # mm, half the size of the cross in a hole
LETTER = 5.0  # mm
LAYERS = (("OUTLINE", 7), ("HOLES", 1), ("MARKS", 3))
"""Layers of the DXF and their colour numbers. [-]"""

Point = tuple[float, float]


def _box(x0: float, x1: float, y0: float, y1: float) -> list[tuple[Point, Point]]:
    """Return the four sides of a rectangle, from the front left corner round. [mm]"""
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return [(corners[k], corners[(k + 1) % 4]) for k in range(4)]


def _part_box(part: Part) -> list[tuple[Point, Point]]:
    return _box(MM * part.x0, MM * part.x1, MM * part.y0, MM * part.y1)


def _marks(floor: Floor) -> Iterator[tuple[Point, Point]]:
    """Yield the lines of datum, scale bar, zone, parts and ports. [mm]"""
    yield (-CROSS, 0.0), (CROSS, 0.0)
    yield (0.0, -CROSS), (0.0, CROSS)
    low = -0.5 * BELOW
    yield (0.0, low), (SCALE_BAR, low)
    for x in range(0, int(SCALE_BAR) + 1, 10):
        tick = 4.0 if x % 50 == 0 else 2.0
        yield (float(x), low - tick), (float(x), low + tick)
    x0, x1, y0, y1 = (MM * value for value in floor.zone)
    whole = (x0, x1, y0, y1) == (0.0, MM * floor.width, 0.0, MM * floor.depth)
    if not whole:
        yield from _box(x0, x1, y0, y1)
    for part in (*floor.parts, *floor.bottom_ports):
        yield from _part_box(part)
    for wall, start, end in floor.port_walls:
        yield _port_line(floor, wall, MM * start, MM * end)


def _port_line(floor: Floor, wall: str, start: float, end: float) -> tuple[Point, Point]:
    """Return a line outside the plate where a port is. [mm]"""
    wide, deep, off = MM * floor.width, MM * floor.depth, 8.0
    at = {"left": -off, "right": wide + off, "front": -off, "back": deep + off}[wall]
    if wall in ("left", "right"):
        return (at, start), (at, end)
    return (start, at), (end, at)


def _words(floor: Floor, pattern: Pattern) -> Iterator[tuple[Point, str]]:
    """Yield texts and where they start. [mm]"""
    yield (SCALE_BAR + 6.0, -0.5 * BELOW - 0.4 * LETTER), "100 mm: measure it before you drill"
    yield (2.0 * CROSS, -3.2 * LETTER), "datum 0, 0: inner front left corner, seen from above"
    yield (
        (0.0, -BELOW + 0.5 * LETTER),
        f"{pattern_words(pattern)}; plate {MM * floor.width:g} x "
        + (f"{MM * floor.depth:g} mm inside the chamber, {MM * floor.thickness:g} mm thick"),
    )
    for part in floor.parts:
        note = " (no holes)" if part.kept_free else ""
        yield (MM * part.x0 + 2.0, MM * part.y0 + 2.0), f"{part.label}{note}"
    for part in floor.bottom_ports:
        yield (MM * part.x0 + 2.0, MM * part.y0 + 2.0), f"{part.label} (below)"


def _number(value: float) -> str:
    """Return a coordinate without needless digits. [mm]"""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def plate_svg(floor: Floor, pattern: Pattern, title: str) -> str:
    """Return a plate as SVG at full size.

    Parameters
    ----------
    floor : Floor
        What is drilled. [m]
    pattern : Pattern
        Drawn holes. [m]
    title : str
        Title of the case. [text]

    Returns
    -------
    str
        One user unit is 1 mm; groups OUTLINE, HOLES, CENTRES and MARKS; the front is below.
    """
    wide, deep = MM * floor.width, MM * floor.depth
    width, height = wide + 2.0 * ROUND, deep + ROUND + BELOW + ROUND

    def at(point: Point) -> Point:
        return point[0] + ROUND, ROUND + deep - point[1]

    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(width)}mm" '
        f'height="{_number(height)}mm" viewBox="0 0 {_number(width)} {_number(height)}">',
        f"<title>{escape(title)}: plate at full size, seen from above</title>",
        '<g id="OUTLINE" fill="none" stroke="black" stroke-width="0.3">',
        f'<rect x="{_number(ROUND)}" y="{_number(ROUND)}" width="{_number(wide)}" '
        f'height="{_number(deep)}"/>',
        "</g>",
        '<g id="HOLES" fill="none" stroke="#c00000" stroke-width="0.2">',
        *_svg_holes(pattern, at),
        "</g>",
        '<g id="CENTRES" fill="none" stroke="black" stroke-width="0.1">',
        f'<path d="{_svg_centres(pattern, at)}"/>',
        "</g>",
        '<g id="MARKS" fill="none" stroke="#0050a0" stroke-width="0.25">',
        *(_svg_line(at(start), at(end)) for start, end in _marks(floor)),
        "</g>",
        f'<g font-family="sans-serif" font-size="{_number(LETTER)}" fill="#0050a0">',
        *(_svg_text(at(place), text) for place, text in _words(floor, pattern)),
        "</g>",
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _svg_holes(pattern: Pattern, at: Callable[[Point], Point]) -> Iterator[str]:
    radius = _number(0.5 * MM * pattern.diameter)
    for x, y in zip(pattern.x.tolist(), pattern.y.tolist(), strict=True):
        across, down = at((MM * x, MM * y))
        yield f'<circle cx="{_number(across)}" cy="{_number(down)}" r="{radius}"/>'


def _svg_centres(pattern: Pattern, at: Callable[[Point], Point]) -> str:
    size = _number(CENTRE)
    double = _number(2.0 * CENTRE)
    parts = []
    for x, y in zip(pattern.x.tolist(), pattern.y.tolist(), strict=True):
        across, down = at((MM * x, MM * y))
        middle = f"M{_number(across)} {_number(down)}"
        parts.append(f"{middle}m-{size} 0h{double}m-{size} -{size}v{double}")
    return "".join(parts)


def _svg_line(start: Point, end: Point) -> str:
    return (
        f'<line x1="{_number(start[0])}" y1="{_number(start[1])}" x2="{_number(end[0])}" '
        f'y2="{_number(end[1])}"/>'
    )


def _svg_text(place: Point, text: str) -> str:
    return f'<text x="{_number(place[0])}" y="{_number(place[1])}">{escape(_plain(text))}</text>'


def _plain(text: str) -> str:
    """Return a text in one line, without what an XML or DXF file cannot hold."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def plate_dxf(floor: Floor, pattern: Pattern) -> str:
    """Return a plate as DXF, release 12, in millimetres.

    Parameters
    ----------
    floor : Floor
        What is drilled. [m]
    pattern : Pattern
        Drawn holes. [m]

    Returns
    -------
    str
        Layers OUTLINE (the plate inside the chamber), HOLES (circles) and MARKS (datum, scale
        bar, what stands on the plate, words): nothing on MARKS is to be cut or drilled.
    """
    wide, deep = MM * floor.width, MM * floor.depth
    low, high = (-ROUND, -BELOW), (wide + ROUND, deep + ROUND)
    groups: list[tuple[int, str]] = [
        *_section("HEADER"),
        (9, "$ACADVER"), (1, "AC1009"),
        (9, "$INSUNITS"), (70, "4"),
        (9, "$EXTMIN"), *_place(10, low), (30, "0.0"),
        (9, "$EXTMAX"), *_place(10, high), (30, "0.0"),
        (0, "ENDSEC"),
        *_tables(),
        *_section("ENTITIES"),
    ]  # fmt: skip
    for start, end in _box(0.0, wide, 0.0, deep):
        groups += _dxf_line("OUTLINE", start, end)
    for x, y in zip(pattern.x.tolist(), pattern.y.tolist(), strict=True):
        groups += _dxf_circle((MM * x, MM * y), 0.5 * MM * pattern.diameter)
    for start, end in _marks(floor):
        groups += _dxf_line("MARKS", start, end)
    for place, text in _words(floor, pattern):
        groups += _dxf_text(place, text)
    groups += [(0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code:>3}\n{value}\n" for code, value in groups)


def _section(name: str) -> list[tuple[int, str]]:
    return [(0, "SECTION"), (2, name)]


def _tables() -> list[tuple[int, str]]:
    """Return line type, layers and letters."""
    groups = [
        *_section("TABLES"),
        (0, "TABLE"), (2, "LTYPE"), (70, "1"),
        (0, "LTYPE"), (2, "CONTINUOUS"), (70, "0"), (3, "Solid line"), (72, "65"), (73, "0"),
        (40, "0.0"), (0, "ENDTAB"),
        (0, "TABLE"), (2, "LAYER"), (70, str(len(LAYERS) + 1)),
    ]  # fmt: skip
    for name, colour in (("0", 7), *LAYERS):
        groups += [(0, "LAYER"), (2, name), (70, "0"), (62, str(colour)), (6, "CONTINUOUS")]
    groups += [
        (0, "ENDTAB"),
        (0, "TABLE"), (2, "STYLE"), (70, "1"),
        (0, "STYLE"), (2, "STANDARD"), (70, "0"), (40, "0.0"), (41, "1.0"), (50, "0.0"),
        (71, "0"), (42, "5.0"), (3, "txt"), (4, ""), (0, "ENDTAB"),
        (0, "ENDSEC"),
    ]  # fmt: skip
    return groups


def _place(code: int, point: Point) -> list[tuple[int, str]]:
    """Return a point; codes of y follow those of x by ten."""
    return [(code, _real(point[0])), (code + 10, _real(point[1]))]


def _real(value: float) -> str:
    text = _number(value)
    return text if "." in text else f"{text}.0"


def _dxf_line(layer: str, start: Point, end: Point) -> list[tuple[int, str]]:
    return [
        (0, "LINE"), (8, layer), *_place(10, start), (30, "0.0"), *_place(11, end), (31, "0.0"),
    ]  # fmt: skip


def _dxf_circle(centre: Point, radius: float) -> list[tuple[int, str]]:
    return [(0, "CIRCLE"), (8, "HOLES"), *_place(10, centre), (30, "0.0"), (40, _real(radius))]


def _dxf_text(place: Point, text: str) -> list[tuple[int, str]]:
    signs = (sign if sign.isascii() else f"\\U+{ord(sign):04X}" for sign in _plain(text))
    return [
        (0, "TEXT"), (8, "MARKS"), *_place(10, place), (30, "0.0"), (40, _real(LETTER)),
        (1, "".join(signs)),
    ]  # fmt: skip
