"""Pictures of an overhaul plan."""

import altair as alt
import pandas as pd

from dashboard.pictures.charts import INK, LINE, MUTED, ODD, dressed
from dashboard.words.plan_words import DEPTH_WORDS


def windows(frame: pd.DataFrame, currency: str) -> alt.LayerChart:
    """What each window is likely to come to, by how deep the engine is opened.

    Parameters
    ----------
    frame : label, order, depth (words of :data:`DEPTH_WORDS`), p50, p80 [money].
    """
    base = alt.Chart(frame)
    y = alt.Y("label:N", title=None, sort=frame["label"].tolist(), axis=alt.Axis(labelLimit=240))
    words = list(DEPTH_WORDS.values())
    colour = alt.Color(
        "depth:N",
        scale=alt.Scale(domain=words, range=["#e3ead9", "#9bb37f", "#4f6d38"]),
        legend=alt.Legend(orient="top", title="opened to"),
    )
    bar = base.mark_bar(height=18, stroke=INK).encode(
        x=alt.X(
            "p80:Q",
            title=f"{currency}, enough 8 times in 10 (mark: 5 times)",
            axis=alt.Axis(format="~s", tickCount=6),
            # Room for the word beside the longest bar, on a telephone too.
            scale=alt.Scale(domain=[0.0, 1.35 * max(float(frame["p80"].max()), 1.0)], nice=False),
        ),
        y=y,
        color=colour,
    )
    half = base.mark_tick(color=INK, thickness=3, size=24).encode(x="p50:Q", y=y)
    # The word again beside the bar: colour alone tells nobody everything.
    text = base.mark_text(align="left", dx=6, color=INK, fontSize=13).encode(x="p80:Q", y=y, text="depth:N")
    return dressed([bar, half, text], 34 * max(len(frame), 2) + 60)


def waiting(risk: pd.DataFrame) -> alt.LayerChart:
    """Chance that the engine has had to stop in mid-season, month by month, without work and with the plan.

    Parameters
    ----------
    risk : month, without_work, with_plan [1].
    """
    names = {"without_work": "without any work", "with_plan": "with this plan"}
    long = risk.melt("month", list(names), "course", "chance")
    long = long.assign(course=long["course"].map(names), cases=100 * long["chance"])
    scale = alt.Scale(domain=list(names.values()), range=[ODD, LINE])
    x = alt.X("month:T", title=None, axis=alt.Axis(format="%Y", grid=False, tickCount="year"))
    line = (
        alt.Chart(long)
        .mark_line(strokeWidth=2.5, interpolate="step-after")
        .encode(
            x=x,
            y=alt.Y("cases:Q", title="times in 100, stopped by then", scale=alt.Scale(domain=[0, 100])),
            color=alt.Color("course:N", scale=scale, legend=None),
            strokeDash=alt.StrokeDash(
                "course:N", scale=alt.Scale(domain=list(names.values()), range=[[6, 4], [1, 0]]), legend=None
            ),
        )
    )
    # Each name on its own side of its line, in the middle of the years, so that they never meet.
    middle = long[long["month"] == long["month"].iloc[len(risk) // 2]]
    texts = [
        alt.Chart(middle[middle["course"] == name])
        .mark_text(dy=shift, fontSize=13, fontWeight="bold", color=colour)
        .encode(x=x, y="cases:Q", text="course:N")
        for name, shift, colour in zip(names.values(), (-10, 16), (ODD, LINE), strict=True)
    ]
    zero = alt.Chart(pd.DataFrame({"cases": [0.0]})).mark_rule(color=MUTED).encode(y="cases:Q")
    return dressed([zero, line, *texts], 260)
