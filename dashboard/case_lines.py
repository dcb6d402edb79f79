"""What stands under the figures of the case: its lines, and the wear points that each is made of."""

import pandas as pd
import streamlit as st

from dashboard import show, state
from dashboard.brief_numbers import Row, in_cases, rows_of
from dashboard.brief_tables import RESERVES, line_words, rounded
from dashboard.here import Here
from models.case import Case
from models.case_cost import points_of
from models.case_money import share_out

SUMS = ["at50", "ask", "p10", "p90"]
LINES = {"work": "Work", "at50": "Enough in 5 of 10", "ask": "Enough in {}", "p10": "From", "p90": "To"}


def under_it(case: Case, now: Here) -> None:
    """Every line of the sum, down to the wear points that it is made of."""
    st.subheader("What stands under the figures")
    lines = line_sums(case)
    st.markdown("Pick a line to see its wear points. From, to: in 8 of 10 cases, each line by itself.")
    heads = {name: word.format(in_cases(case.confidence)) for name, word in LINES.items()}
    heads |= {name: f"{heads[name]} [{case.currency}]" for name in ("at50", "ask")}
    money = st.column_config.NumberColumn(format="localized")
    picked = show.table(
        lines,
        "case-lines",
        words=heads,
        alt_text="Lines of the sum",
        pick="case-line",
        formats={heads[name]: money for name in SUMS},
        height=420,
    )
    if picked is None:
        return
    points_below(list(lines["points"].iloc[picked]), now, "case-points")


def line_sums(case: Case) -> pd.DataFrame:
    """The lines of the sum, dearest first, in whole steps that add up to the total in the first row."""
    sums = rounded(case)
    lines = case.lines.sort_values("ask", ascending=False, kind="stable").reset_index(drop=True)
    lines = lines.assign(
        work=[_line_words(row) for row in rows_of(lines)],
        at50=share_out(lines["at50"].to_numpy(float), sums.fine, total=sums.half_way),
        ask=share_out(lines["ask"].to_numpy(float), sums.fine, total=sums.ask),
        **{name: (lines[name] / sums.fine).round() * sums.fine for name in ("p10", "p90")},
    )
    whole = {"work": "All together", "at50": sums.half_way, "ask": sums.ask, "points": points_of(case.lines)}
    ends = {"p10": case.amount.p10, "p90": case.amount.p90}
    whole |= {name: round(value / sums.step) * sums.step for name, value in ends.items()}
    return pd.concat([pd.DataFrame([whole]), lines], ignore_index=True)


def _line_words(row: Row) -> str:
    """A line in words, each reserve by the part that it is for."""
    return f"reserve, {row.component}" if row.kind in RESERVES else line_words(row)


def points_below(names: list[str], now: Here, key: str) -> None:
    """The wear points that a figure is made of; opening one leads to its page."""
    rows = now.forecast[now.forecast["point"].isin(names)].sort_values("miles_p05")
    if rows.empty:
        st.markdown(
            "No wear point stands under this line: it is opening the engine, or work that findings foretell."
        )
        return
    from dashboard.components import ranked

    opened = ranked(rows, now.units, caption=f"{len(rows)} wear points under this line.", key=key)
    if opened:
        state.go("views/point.py", point=opened)
