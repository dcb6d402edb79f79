"""The one picture of the brief: remaining miles of each component against the seasons ahead."""

from dataclasses import dataclass

import pandas as pd

from dashboard.papers import brief_svg as svg
from dashboard.words.numbers import Numbers, month_short
from dashboard.words.records import Row, rows_of


@dataclass(frozen=True)
class Layout:
    """Widths of the picture; ``above``: words stand over the bars, as on a telephone."""

    width: float = 720.0
    left: float = 168.0
    right: float = 130.0
    row: float = 40.0
    above: bool = False


WIDE, NARROW = Layout(), Layout(width=350.0, left=8.0, right=12.0, row=56.0, above=True)
MORE = 7.0
"""Width of the tip on a bar that goes on beyond the picture."""
BAR = 16.0
TOP = 74.0
MOST_ROWS = 7


@dataclass(frozen=True)
class RemainingPicture:
    """What the picture shows.

    Attributes
    ----------
    seasons : label, start, end: planned miles from as-of to the beginning and end of each season. [mi]
    components : label, note, p10, p50, p90: miles until the first wear point of it reaches its limit. [mi]
    window : planned miles at which the work is to be done. [mi]
    window_on : the day.
    """

    seasons: pd.DataFrame
    components: pd.DataFrame
    window: float
    window_on: pd.Timestamp


def remaining_picture(shown: RemainingPicture, numbers: Numbers, layout: Layout = WIDE) -> str:
    """Draw it as SVG. The soonest component is on top; at most seven, the others are counted below."""
    rows = shown.components.sort_values(["p50", "p10"]).head(MOST_ROWS)
    furthest = _furthest(shown, rows)
    scale = (layout.width - layout.left - layout.right) / furthest
    bottom = TOP + layout.row * len(rows)
    body = _seasons(shown, scale, furthest, bottom, layout)
    for i, row in enumerate(rows_of(rows)):
        body += _component(row, TOP + layout.row * i, scale, furthest, shown.window, numbers, layout)
    body += _window(shown, scale, bottom, layout)
    body += _legend(bottom, layout)
    left_out = len(shown.components) - len(rows)
    if left_out > 0:
        more = f"and {left_out} more that last longer"
        body.append(
            svg.words(
                0,
                bottom + 18,
                more,
                fill=svg.QUIET,
                font_size=12,
            )
        )
    made = svg.document(
        layout.width,
        bottom + (106 if layout.above else 62),
        "Remaining miles against the seasons ahead",
        alt_text(shown, numbers),
        body,
        svg.STRIPES,
    )
    # On one page with the wide picture: a pattern of its own, as a hidden one draws nothing.
    own = ('id="stripes"', 'id="stripes-narrow"'), ("url(#stripes)", "url(#stripes-narrow)")
    return made.replace(*own[0]).replace(*own[1]) if layout.above else made


def alt_text(shown: RemainingPicture, numbers: Numbers) -> str:
    """The picture in words."""
    rows = shown.components.sort_values(["p50", "p10"]).head(MOST_ROWS)
    parts = [
        f"{row.label}: {numbers.miles(row.p10)} to {numbers.miles(row.p90)} miles" for row in rows_of(rows)
    ]
    return (
        f"Work planned after {numbers.miles(shown.window)} more miles, {month_short(shown.window_on)}. "
        "Miles left until the limit, 8 times in 10: " + "; ".join(parts) + "."
    )


def _furthest(shown: RemainingPicture, rows: pd.DataFrame) -> float:
    """Miles at the right edge: past the window and past the middle of the last bar, no season cut in two."""
    wanted = max(shown.window * 1.3, float(rows["p50"].max()) * 1.15 if len(rows) else 0.0)
    ends = shown.seasons["end"]
    beyond = ends[ends >= wanted]
    return max(float(beyond.iloc[0]) if len(beyond) else float(ends.max()), shown.window * 1.1, 1.0)


def _seasons(
    shown: RemainingPicture, scale: float, furthest: float, bottom: float, layout: Layout
) -> list[str]:
    """Bands of the seasons, every other one tinted, the year written in each that has room."""
    body = [svg.words(layout.left, 18, "Seasons ahead, by the miles planned", fill=svg.QUIET)]
    for i, season in enumerate(rows_of(shown.seasons)):
        start, end = float(season.start), min(float(season.end), furthest)
        if start >= furthest or end <= start:
            continue
        x, width = layout.left + start * scale, (end - start) * scale
        tint = svg.BAND if i % 2 == 0 else svg.PAPER
        body.append(svg.rect(x, 28, width, bottom - 28, fill=tint))
        body.append(svg.line(x + width, 28, x + width, bottom))
        if width > 34:
            body.append(svg.words(x + width / 2, 46, season.label, text_anchor="middle"))
    body.append(svg.line(layout.left, 28, layout.left, bottom, stroke=svg.INK))
    return body


def _name(row: Row, middle: float, layout: Layout, window: float) -> list[str]:
    """The component and its note: left of the bar, on a telephone over it and clear of the window's line."""
    if layout.above:
        begins = layout.left + 4
        return [
            svg.words(window + 6 if begins - 2 < window < begins + 60 else begins, middle - 14, row.label)
        ]
    return [
        svg.words(layout.left - 10, middle, row.label, text_anchor="end"),
        svg.words(layout.left - 10, middle + 14, row.note, text_anchor="end", fill=svg.QUIET, font_size=11.5),
    ]


def _component(
    row: Row,
    y: float,
    scale: float,
    furthest: float,
    window: float,
    numbers: Numbers,
    layout: Layout,
) -> list[str]:
    p10, p50, p90 = (min(float(getattr(row, name)), furthest) for name in ("p10", "p50", "p90"))
    left = layout.left
    middle = y + layout.row / 2 + (10 if layout.above else 0)
    top = middle - BAR / 2
    body = [
        *_name(row, middle, layout, left + window * scale),
        svg.rect(left, top, p10 * scale, BAR, fill=svg.SURE),
        svg.rect(left + p10 * scale, top, (p90 - p10) * scale, BAR, fill="url(#stripes)", stroke=svg.LIKELY),
    ]
    if row.p90 > furthest:
        edge = left + furthest * scale + 1
        tip = f"M{edge:.2f} {top:.2f} l{MORE:g} {BAR / 2:g} l-{MORE:g} {BAR / 2:g} z"
        body.append(svg.path(tip, fill=svg.LIKELY))
    if p50 < furthest:
        body.append(
            svg.line(
                left + p50 * scale,
                top - 4,
                left + p50 * scale,
                top + BAR + 4,
                stroke=svg.INK,
                stroke_width=2.5,
            )
        )
    low, high = numbers.miles(row.p10), numbers.miles(row.p90)
    text = f"{low}–{high} mi" if low != high else f"{low} mi"
    body.append(
        svg.words(
            layout.width - (layout.right + 4 if layout.above else 0),
            middle - 14 if layout.above else middle + 5,
            text,
            text_anchor="end",
            font_size=12.5,
        )
    )
    return body


def _window(shown: RemainingPicture, scale: float, bottom: float, layout: Layout) -> list[str]:
    x = layout.left + shown.window * scale
    label = f"work planned: {month_short(shown.window_on)}"
    anchor = "start" if x < layout.width - layout.right - 150 else "end"
    text_x = x + (6 if anchor == "start" else -6)
    return [
        svg.line(x, 52, x, bottom + 4, stroke=svg.LATE, stroke_width=3, stroke_dasharray="7 4"),
        svg.words(text_x, 66, label, fill=svg.LATE, font_weight="bold", text_anchor=anchor, font_size=13),
    ]


def _legend(bottom: float, layout: Layout) -> list[str]:
    y = bottom + (40 if layout.above else 46)
    pieces = [
        (0.0, svg.rect(0, -11, 26, 12, fill=svg.SURE), "sound 9 times in 10"),
        (
            210.0,
            svg.rect(0, -11, 26, 12, fill="url(#stripes)", stroke=svg.LIKELY),
            "limit reached in here 8 times in 10",
        ),
        (480.0, svg.line(13, -14, 13, 4, stroke=svg.INK, stroke_width=2.5), "5 times in 10 by here"),
    ]
    body = []
    for place, (x, mark, text) in enumerate(pieces):
        at = f"{layout.left:g} {y + 24 * place:g}" if layout.above else f"{x:g} {y:g}"
        body.append(f'<g transform="translate({at})">{mark}{svg.words(34, 0, text, font_size=12.5)}</g>')
    return body
