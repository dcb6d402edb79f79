"""The running gear drawn from the wheel arrangement: which shapes, where, and what they say.

A drawing is a scene: nested ``(tag, attributes, children)`` of SVG, children being scenes or plain text.
The browser builds its elements from it node by node, and :func:`to_svg` writes the same scene as a file,
so nothing that a file brought is ever read as markup. The left side stands above the rail, the right side
below it like a mirror image, so that the two wheels of an axle stand one over the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from dashboard.words.gear_places import Place, Wheelset

Scene = tuple[str, dict[str, Any], list[Any]]

INK, PAPER, FAINT, METAL = "#1f2933", "#fcfbf7", "#b9b09c", "#e8e2d2"
RADIUS = {"leading": 24.0, "driver": 39.0, "trailing": 28.0, "tender": 24.0}
GAP = {"leading": 4.0, "driver": 4.0, "trailing": 4.0, "tender": 4.0}
BETWEEN_GROUPS, MARGIN, CYLINDER_WIDTH, RAIL_GAP, PIN_HEIGHT = 14.0, 10.0, 54.0, 34.0, 0.4


@dataclass(frozen=True)
class Look:
    """What a state of wear looks like: never colour alone, also a pattern and a word."""

    fill: str
    text: str
    pattern: str
    word: str


LOOKS = {
    "past": Look("#3d1020", "#ffffff", "cross", "past its limit"),
    "year": Look("#d8663a", "#1f1208", "stripes", "in a year or less"),
    "three": Look("#f0c667", "#2b2005", "dots", "in 3 years or less"),
    "later": Look("#cfe3ee", "#12303f", "plain", "after 3 years"),
    "implausible": Look("#e9dcf2", "#1f2933", "dashed", "last reading cannot be right"),
    "unknown": Look("#ffffff", "#1f2933", "dashed", "cannot be told"),
    "none": Look("#f3efe6", "#5c564a", "plain", "no wear point"),
}
"""Lightness falls from state to state, so that a grey print still shows the order."""


@dataclass(frozen=True)
class Label:
    """What stands at one place: its state, the short text in it and the sentence read out for it."""

    state: str
    text: str
    spoken: str


@dataclass(frozen=True)
class Drawing:
    """The scene, its size in its own units, and the places that can be picked in it."""

    scene: Scene
    width: float
    height: float
    places: list[Place] = field(default_factory=list)


def draw(wheelsets: Sequence[Wheelset], labels: dict[Place, Label], *, title: str) -> Drawing:
    """Draw the running gear of one vehicle.

    Parameters
    ----------
    wheelsets : from front to back (:func:`dashboard.words.gear_places.wheelsets`).
    labels : what to say at each place; a place that has no label is drawn without a number.
    title : read out for the whole picture.
    """
    columns, width = _columns(wheelsets, has_cylinders=any(p.group == "motion" for p in labels))
    tallest = max((RADIUS[w.group] for w in wheelsets), default=25.0)
    middle = 2 * tallest + 38
    height = 2 * middle
    scene: list[Any] = [("title", {}, [title]), *_definitions()]
    scene += _rails(width, middle)
    places: list[Place] = []
    for side, up in (("L", -1.0), ("R", 1.0)):
        line = middle + up * RAIL_GAP / 2
        words = "◀ front, LEFT side" if side == "L" else "◀ front, RIGHT side"
        scene.append(_text(6, 14 if side == "L" else height - 5, words, 13, "start"))
        scene += _cylinder(labels, side, columns, line, up, places)
        for wheelset, x in columns:
            place = Place(wheelset.group, wheelset.number, side)
            radius = RADIUS[wheelset.group]
            scene.append(_wheel(place, labels.get(place), (x, line + up * radius), radius))
            places.append(place)
        scene += _rods(columns, line, up)
    scene += _axle_marks(columns, labels, middle, places)
    attributes = {
        "viewBox": f"0 0 {width:g} {height:g}",
        "role": "group",
        "aria-label": title,
        "class": "running-gear",
    }
    return Drawing(("svg", attributes, scene), width, height, [p for p in places if p in labels])


def swatch(state: str) -> Scene:
    """A small sample of a state's look for the legend."""
    label, place = Label(state, "", ""), Place("", 0, "")
    shape: tuple[str, dict[str, Any]] = ("circle", {"cx": 12, "cy": 12, "r": 10})
    sample = _button(place, label, shape, (12, 12))
    children = [child for child in sample[2] if child[0] != "title"]
    return ("svg", {"viewBox": "0 0 24 24", "aria-hidden": "true"}, [*_definitions(), *children])


def to_svg(drawing: Drawing) -> str:
    """The scene as an SVG file that stands alone."""
    tag, attributes, children = drawing.scene
    size = {"xmlns": "http://www.w3.org/2000/svg", "width": drawing.width, "height": drawing.height}
    back: Scene = ("rect", {"width": "100%", "height": "100%", "fill": PAPER}, [])
    return _markup((tag, {**size, "font-family": "sans-serif", **attributes}, [back, *children]))


def _markup(node: Scene | str) -> str:
    if isinstance(node, str):
        return escape(node)
    tag, attributes, children = node
    written = "".join(f" {name}={quoteattr(str(value))}" for name, value in attributes.items())
    return f"<{tag}{written}>{''.join(_markup(child) for child in children)}</{tag}>"


def _columns(
    wheelsets: Sequence[Wheelset], *, has_cylinders: bool
) -> tuple[list[tuple[Wheelset, float]], float]:
    """Place the axles from left to right; the width that they take."""
    x, before, columns = MARGIN, None, []
    if has_cylinders and (not wheelsets or wheelsets[0].group == "driver"):
        x += CYLINDER_WIDTH
    for wheelset in wheelsets:
        radius = RADIUS[wheelset.group]
        if before is not None:
            changed = before != (wheelset.group, wheelset.unit)
            x += BETWEEN_GROUPS if changed else GAP[wheelset.group]
        columns.append((wheelset, x + radius))
        x += 2 * radius
        before = (wheelset.group, wheelset.unit)
    return columns, max(x + MARGIN, 150.0)


def _definitions() -> list[Any]:
    """The patterns: cross-hatch, stripes and dots over the fill of a state."""
    cross: Scene = (
        "path",
        {"d": "M0 0L8 8M8 0L0 8", "stroke": "#ffffff", "stroke-width": 0.9, "opacity": 0.55},
        [],
    )
    stripes: Scene = (
        "path",
        {"d": "M-2 8L8 -2M2 12L12 2", "stroke": "#7a2a08", "stroke-width": 1.5, "opacity": 0.6},
        [],
    )
    dots: Scene = ("circle", {"cx": 3, "cy": 3, "r": 1.1, "fill": "#8a6310"}, [])
    size = {"patternUnits": "userSpaceOnUse"}
    return [
        (
            "defs",
            {},
            [
                ("pattern", {"id": "cross", "width": 8, "height": 8, **size}, [cross]),
                ("pattern", {"id": "stripes", "width": 10, "height": 10, **size}, [stripes]),
                ("pattern", {"id": "dots", "width": 6, "height": 6, **size}, [dots]),
            ],
        )
    ]


def _rails(width: float, middle: float) -> list[Any]:
    lines: list[Any] = []
    for up in (-1, 1):
        y = middle + up * RAIL_GAP / 2
        lines.append(("line", {"x1": 0, "x2": width, "y1": y, "y2": y, "stroke": INK, "stroke-width": 2}, []))
    return lines


def _rods(columns: list[tuple[Wheelset, float]], line: float, up: float) -> list[Any]:
    """The coupling rod along each set of drivers with its crank pins, clear of the wheels' numbers."""
    rods: list[Any] = []
    y = line + up * RADIUS["driver"] * PIN_HEIGHT
    for unit in sorted({w.unit for w, _ in columns if w.group == "driver"}):
        xs = [x for w, x in columns if w.group == "driver" and w.unit == unit]
        if len(xs) > 1:
            bar = {"x1": xs[0], "x2": xs[-1], "y1": y, "y2": y, "stroke-linecap": "round"}
            rods.append(("line", {**bar, "stroke": INK, "stroke-width": 7}, []))
            rods.append(("line", {**bar, "stroke": METAL, "stroke-width": 4}, []))
        pin = {"cy": y, "r": 4.5, "fill": METAL, "stroke": INK, "stroke-width": 1.5}
        rods += [("circle", {"cx": x, **pin}, []) for x in xs]
    return [("g", {"class": "rods", "pointer-events": "none"}, rods)]


def _cylinder(
    labels: dict[Place, Label],
    side: str,
    columns: list[tuple[Wheelset, float]],
    line: float,
    up: float,
    places: list[Place],
) -> list[Any]:
    """Cylinder and crosshead in front of the first driver, with the main rod to the second."""
    place = Place("motion", 0, side)
    drivers = [x for w, x in columns if w.group == "driver"]
    if place not in labels or not drivers:
        return []
    places.append(place)
    right = drivers[0] - RADIUS["driver"] - 12
    left = max(right - CYLINDER_WIDTH, 8.0)
    y = line + up * (2 * RADIUS["leading"] + 15)
    target = drivers[min(1, len(drivers) - 1)]
    ends = {"x1": right, "x2": target, "y1": y, "y2": line + up * RADIUS["driver"] * PIN_HEIGHT}
    rod: Scene = ("line", {**ends, "stroke": FAINT, "stroke-width": 6, "stroke-linecap": "round"}, [])
    box = {"x": left, "y": y - 15, "width": right - left, "height": 30, "rx": 6}
    return [rod, _button(place, labels[place], ("rect", box), ((left + right) / 2, y))]


def _wheel(place: Place, label: Label | None, centre: tuple[float, float], radius: float) -> Scene:
    shape = ("circle", {"cx": centre[0], "cy": centre[1], "r": radius - 2})
    if label is None:
        return ("circle", {**shape[1], "fill": LOOKS["none"].fill, "stroke": FAINT, "stroke-width": 2}, [])
    return _button(place, label, shape, centre)


def _button(
    place: Place, label: Label, shape: tuple[str, dict[str, Any]], centre: tuple[float, float]
) -> Scene:
    """One place: its shape with fill and pattern, the number on a plain ground, and what is read out."""
    look = LOOKS[label.state]
    tag, geometry = shape
    edge = {"stroke": INK, "stroke-width": 2.2}
    if look.pattern == "dashed":
        edge["stroke-dasharray"] = "5 4"
    children: list[Any] = [("title", {}, [label.spoken]), (tag, {**geometry, "fill": look.fill, **edge}, [])]
    if look.pattern in ("cross", "stripes", "dots"):
        children.append((tag, {**geometry, "fill": f"url(#{look.pattern})"}, []))
    children += _plate(label.text, centre, look)
    children.append((tag, {**geometry, "fill": "none", "class": "ring"}, []))
    attributes = {
        "role": "button",
        "tabindex": "0",
        "aria-pressed": "false",
        "aria-label": label.spoken,
        "data-place": place.key,
        "class": "place",
    }
    return ("g", attributes, children)


def _plate(text: str, centre: tuple[float, float], look: Look) -> list[Any]:
    """The number, on a plate of the plain fill so that the pattern never runs through a figure."""
    if not text:
        return []
    x, y = centre
    half = 4.7 * len(text) + 2
    plate = {"x": x - half, "y": y - 9, "width": 2 * half, "height": 18, "rx": 5, "fill": look.fill}
    return [("rect", plate, []), _text(x, y + 5.5, text, 16, "middle", look.text, bold=True)]


def _axle_marks(
    columns: list[tuple[Wheelset, float]],
    labels: dict[Place, Label],
    middle: float,
    places: list[Place],
) -> list[Any]:
    """Between the rails: the number of the axle, a button where the axle itself has wear points."""
    marks: list[Any] = []
    for wheelset, x in columns:
        place = Place(wheelset.group, wheelset.number, "")
        if place in labels:
            box = {"x": x - 23, "y": middle - 13, "width": 46, "height": 26, "rx": 8}
            marks.append(_button(place, labels[place], ("rect", box), (x, middle)))
            places.append(place)
        else:
            marks.append(_text(x, middle + 4.5, str(wheelset.number), 13, "middle", "#5c564a"))
    return marks


def _text(
    x: float, y: float, text: str, size: float, anchor: str, fill: str = INK, *, bold: bool = False
) -> Scene:
    attributes = {"x": x, "y": y, "font-size": size, "text-anchor": anchor, "fill": fill}
    if bold:
        attributes["font-weight"] = 700
    return ("text", attributes, [text])
