"""Pictures of the track record."""

import altair as alt
import pandas as pd

from dashboard.pictures.charts import BAND, INK, LINE, MUTED, ODD, dressed


def kept_promises(cover: pd.DataFrame) -> alt.LayerChart:
    """Of 100 readings, how many fell into the range that promised to hold so many.

    Parameters
    ----------
    cover : promised, held; both out of 100.
    """
    base = alt.Chart(cover.assign(name=cover["promised"].map("range for {:.0f} of 100".format)))
    y = alt.Y("name:N", title=None, sort=None, axis=alt.Axis(labelLimit=220))
    bar = base.mark_bar(color=BAND, height=22).encode(
        x=alt.X("held:Q", title="readings of 100 that fell into it", scale=alt.Scale(domain=[0, 100])), y=y
    )
    wanted = base.mark_tick(color=INK, thickness=3, size=34).encode(x="promised:Q", y=y)
    text = base.mark_text(align="left", x=8, color=INK, fontSize=14, fontWeight="bold").encode(
        y=y, text=alt.Text("held:Q", format=".0f")
    )
    return dressed([bar, wanted, text], 170)


def against_the_line(ratios: pd.DataFrame) -> alt.LayerChart:
    """Errors of each forecaster as a share of those of a straight line.

    Parameters
    ----------
    ratios : forecaster, ratio, own (bool); 1.0 is the straight line.
    """
    base = alt.Chart(ratios)
    order = ratios.sort_values("ratio")["forecaster"].tolist()
    y = alt.Y("forecaster:N", title=None, sort=order, axis=alt.Axis(labelLimit=240))
    bar = base.mark_bar(height=18).encode(
        x=alt.X("ratio:Q", title="error; a straight line has 1", axis=alt.Axis(tickCount=5)),
        y=y,
        color=alt.condition("datum.own", alt.value(LINE), alt.value("#c9bfa8")),
    )
    # At the foot of the bar, where the mark of the straight line never crosses it.
    text = base.mark_text(align="left", x=6, fontSize=13, fontWeight="bold").encode(
        y=y,
        text=alt.Text("ratio:Q", format=".2f"),
        color=alt.condition("datum.own", alt.value("#ffffff"), alt.value(INK)),
    )
    line = (
        alt.Chart(pd.DataFrame({"ratio": [1.0]})).mark_rule(color=ODD, strokeDash=[4, 3]).encode(x="ratio:Q")
    )
    return dressed([bar, line, text], 36 * max(len(ratios), 2) + 40)


def where_they_fell(pit: pd.DataFrame) -> alt.LayerChart:
    """Share of the readings by where in the forecast's range they fell; level if the forecast is honest.

    Parameters
    ----------
    pit : bin (0 to 9), share.
    """
    tenths = pit.assign(tenth=pit["bin"] + 1, cases=pit["share"] * 100)
    bar = (
        alt.Chart(tenths)
        .mark_bar(color=BAND, stroke=MUTED)
        .encode(
            x=alt.X(
                "tenth:O",
                title="tenth of the forecast's range, less worn to more worn",
                axis=alt.Axis(labelAngle=0),
            ),
            y=alt.Y("cases:Q", title="readings of 100"),
        )
    )
    level = (
        alt.Chart(pd.DataFrame({"cases": [10.0]})).mark_rule(color=INK, strokeDash=[4, 3]).encode(y="cases:Q")
    )
    return dressed([bar, level], 230)
