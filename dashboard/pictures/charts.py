"""Pictures from frames. No screen here: each function returns an Altair chart that can be shown or saved."""

from dataclasses import dataclass

import altair as alt
import numpy as np
import pandas as pd

from models.distribution import Floats

INK, MUTED, GRID = "#1f2933", "#4b5560", "#e3dccd"
BAND, LINE, LIMIT, ODD = "#9cc4da", "#0b4f6c", "#a3260f", "#b5550d"
HEIGHT = 380
FONT = "Source Sans, Source Sans 3, sans-serif"

alt.data_transformers.disable_max_rows()


def dressed(layers: list[alt.Chart], height: int) -> alt.LayerChart:
    """The common look; set on the chart itself so that a saved picture has it too."""
    dressed_chart: alt.LayerChart = (
        alt.LayerChart(layer=layers)
        .properties(height=height, background="#fcfbf7", autosize={"type": "fit-x", "contains": "padding"})
        .configure(font=FONT)
        .configure_view(stroke=None)
        .configure_axis(
            labelColor=MUTED,
            titleColor=INK,
            gridColor=GRID,
            domainColor=MUTED,
            tickColor=MUTED,
            labelFontSize=13,
            titleFontSize=13,
            titleFontWeight="normal",
        )
        .configure_legend(labelFontSize=13, titleFontSize=13, labelColor=INK, orient="top", title=None)
    )
    return dressed_chart


@dataclass(frozen=True)
class WearPicture:
    """What :func:`wear` draws, in the units shown.

    Attributes
    ----------
    readings : distance, value, date, verdict (taken / odd), in order.
    path : distance, low, middle, high, kind (fitted / ahead).
    limits : value, name.
    renewals : distance, name; where a life began.
    value_title, distance_title : axis titles.
    """

    readings: pd.DataFrame
    path: pd.DataFrame
    limits: pd.DataFrame
    renewals: pd.DataFrame
    value_title: str
    distance_title: str


def wear(picture: WearPicture) -> alt.LayerChart:
    """Readings, fitted path with its band, carried on to the limit."""
    x = alt.X(
        "distance:Q",
        title=picture.distance_title,
        axis=_distance_axis(),
        scale=_near(),
    )
    y = alt.Y("value:Q", title=picture.value_title, scale=_near())
    path = picture.path
    band = (
        alt.Chart(path)
        .mark_area(color=BAND, opacity=0.55)
        .encode(x=x, y=alt.Y("low:Q", scale=_near()), y2="high:Q")
    )
    line = (
        alt.Chart(path)
        .mark_line(color=LINE, strokeWidth=2.2)
        .encode(
            x=x,
            y=alt.Y("middle:Q", title=picture.value_title),
            strokeDash=alt.StrokeDash(
                "kind:N", scale=alt.Scale(domain=["fitted", "ahead"], range=[[1, 0], [6, 4]]), legend=None
            ),
            detail="life:N" if "life" in path else alt.Undefined,
        )
    )
    layers = [band, line, *_limits(picture.limits), *_renewals(picture), _readings(picture.readings, x, y)]
    return dressed(layers, HEIGHT)


def _distance_axis() -> alt.Axis:
    """Few ticks, whose figures never run into each other."""
    return alt.Axis(format=",.0f", grid=False, tickCount=6, labelOverlap="greedy", labelFlush=False)


def _near() -> alt.Scale:
    return alt.Scale(zero=False, nice=True)


def _readings(readings: pd.DataFrame, x: alt.X, y: alt.Y) -> alt.Chart:
    verdict = alt.Scale(domain=["taken", "odd"], range=["circle", "cross"])
    colour = alt.Scale(domain=["taken", "odd"], range=[INK, ODD])
    dots: alt.Chart = (
        alt.Chart(readings)
        .mark_point(size=75, filled=True, opacity=1)
        .encode(
            x=x,
            y=y,
            shape=alt.Shape("verdict:N", scale=verdict, legend=None),
            color=alt.Color("verdict:N", scale=colour, legend=None),
            tooltip=[
                alt.Tooltip("date:T", title="date", format="%d %b %Y"),
                alt.Tooltip("value:Q", title="reading", format=".4~f"),
                alt.Tooltip("distance:Q", title="run in all", format=",.0f"),
            ],
        )
    )
    return dots


def _limits(limits: pd.DataFrame) -> list[alt.Chart]:
    if limits.empty:
        return []
    base = alt.Chart(limits)
    rule = base.mark_rule(color=LIMIT, strokeWidth=2, strokeDash=[2, 2]).encode(y="value:Q")
    text = base.mark_text(align="left", x=4, dy=-7, color=LIMIT, fontSize=13, fontWeight="bold").encode(
        y="value:Q", text="name:N"
    )
    return [rule, text]


def _renewals(picture: WearPicture) -> list[alt.Chart]:
    if picture.renewals.empty:
        return []
    base = alt.Chart(picture.renewals)
    rule = base.mark_rule(color=MUTED, strokeDash=[1, 4]).encode(x="distance:Q")
    text = base.mark_text(angle=270, align="left", y=HEIGHT - 6, dy=-6, color=MUTED, fontSize=12).encode(
        x="distance:Q", text="name:N"
    )
    return [rule, text]


def remaining(miles: Floats, probability: Floats, title: str, marks: pd.DataFrame) -> alt.LayerChart:
    """How many of 100 such wear points have reached their limit after a distance.

    Parameters
    ----------
    miles, probability : quantiles of the remaining distance in the unit shown, and their probabilities.
    marks : distance, cases, name; figures to point out.
    """
    frame = pd.DataFrame({"distance": np.maximum(miles, 0.0), "cases": np.asarray(probability) * 100})
    start = pd.DataFrame(
        {"distance": [0.0], "cases": [frame.loc[frame["distance"] <= 0, "cases"].max()]}
    ).fillna(0)
    frame = pd.concat([start, frame[frame["distance"] > 0]], ignore_index=True)
    x = alt.X("distance:Q", title=title, axis=_distance_axis())
    y = alt.Y("cases:Q", title="times in 100 at the limit", scale=alt.Scale(domain=[0, 100]))
    area = (
        alt.Chart(frame)
        .mark_area(color=BAND, opacity=0.55, line={"color": LINE, "strokeWidth": 2})
        .encode(x=x, y=y)
    )
    base = alt.Chart(marks.assign(zero=0.0))
    drop = base.mark_rule(color=INK, strokeDash=[3, 3]).encode(x="distance:Q", y="cases:Q", y2="zero:Q")
    reach = base.mark_rule(color=INK, strokeDash=[3, 3]).encode(x="zero:Q", x2="distance:Q", y="cases:Q")
    dot = base.mark_point(color=INK, filled=True, size=60, opacity=1).encode(x="distance:Q", y="cases:Q")
    text = base.mark_text(align="left", x=6, dy=-9, color=INK, fontSize=13).encode(y="cases:Q", text="name:N")
    return dressed([area, drop, reach, dot, text], 260)
