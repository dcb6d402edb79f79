"""What the figures of the case are made of: its lines, and the wear points that each is made of."""

from dataclasses import dataclass

import pandas as pd
import streamlit as st

from dashboard.papers.brief_tables import RESERVES, gift_words, line_words, rounded
from dashboard.papers.brief_words import CENT, in_all_words
from dashboard.papers.excursion_words import part_words
from dashboard.screen import address, show
from dashboard.screen.in_view import InView
from dashboard.sections import wear_list
from dashboard.words.numbers import day_words, month_words, numbers
from dashboard.words.records import Row, rows_of
from models.case.case import Case
from models.case.cost import points_of
from models.case.money import rounding_step, share_out
from models.frequency import times_in

KINDS = {
    "sum": "The sum",
    "gifts": "What a gift buys",
    "mile": "A mile",
    "miles": "Miles left",
}
RANGE = {"p10": "From", "p90": "To"}


@dataclass(frozen=True)
class Traced:
    """Figures with the wear points under each: ``rows`` has ``points`` and the columns of ``heads``."""

    rows: pd.DataFrame
    heads: dict[str, str]
    format: str
    note: str


def under_it(case: Case, view: InView) -> None:
    """Every figure of the case, down to the wear points that it is made of."""
    st.subheader("What the figures are made of")
    kind = address.pick(
        st.segmented_control,
        "Which figures",
        list(KINDS),
        "under",
        words=KINDS.__getitem__,
        label_visibility="collapsed",
        required=True,
    )
    made = {"sum": _sum, "gifts": _gifts, "mile": _mile, "miles": _miles_left}[kind](case, view)
    st.markdown(show.plain(f"{made.note} From, to: 8 times in 10. Pick a line to see its wear points."))
    figures = st.column_config.NumberColumn(format=made.format)
    picked = show.table(
        made.rows,
        f"case-{kind}",
        words=made.heads,
        alt_text=f"{KINDS[kind]}: figures and their range",
        pick=f"case-{kind}-line",
        formats={head: figures for name, head in made.heads.items() if name != "work"},
        height=420,
    )
    if picked is not None:
        points_below(list(made.rows["points"].iloc[picked]), view, f"case-{kind}-points")


def _sum(case: Case, view: InView) -> Traced:  # noqa: ARG001 -- money knows no units
    sure, money = times_in(case.confidence), f"[{case.currency}]"
    heads = {"work": "Work", "at50": f"Enough {times_in(0.5)} {money}", "ask": f"Enough {sure} {money}"}
    return Traced(line_sums(case), heads | RANGE, "localized", "Each line by itself.")


def _gifts(case: Case, view: InView) -> Traced:  # noqa: ARG001
    shown = numbers("en", case.currency)
    rows = case.gifts.rename(columns={"low": "p10", "high": "p90"})
    rows = rows.assign(work=[gift_words(row, shown) for row in rows_of(rows)])
    heads = {"work": "A gift that buys", "price": f"Costs about [{case.currency}]"}
    note = f"Miles at the prices of {day_words(case.as_of)}, work at those of {month_words(case.opens)}."
    return Traced(_in_figures(rows, "price"), heads | RANGE, "localized", note)


def _mile(case: Case, view: InView) -> Traced:
    per = float(view.units.miles(1.0))
    rows = case.mile.assign(work=[part_words(row) for row in rows_of(case.mile)])
    rows = rows.assign(**{name: rows[name] / per for name in ("mean", "p10", "p90")})
    rows = rows.sort_values("mean", ascending=False, kind="stable", ignore_index=True)
    heads = {"work": "Parts that wear", "mean": f"Used up by one {view.units.distance} [{case.currency}]"}
    shown = numbers("en", case.currency)
    figures = ("p10", "mean", "p90")
    whole = case.mile_whole.assign(**{name: case.mile_whole[name] / per for name in figures})
    in_all = in_all_words(whole, shown.small_money, CENT)
    note = f"The parts that wear, at the prices of {day_words(case.as_of)}.{in_all}"
    return Traced(rows, heads | RANGE, "%.3f", note)


def _miles_left(case: Case, view: InView) -> Traced:
    rows = case.remaining.rename(columns={"label": "work"})
    rows = rows.assign(
        **{name: [view.units.rounded(x) for x in rows[name]] for name in ("p10", "p50", "p90")}
    )
    heads = {"work": "First to reach its limit", "p50": f"Half after [{view.units.distance}]"}
    return Traced(rows, heads | RANGE, "localized", f"Counted from {day_words(case.as_of)}.")


def _in_figures(rows: pd.DataFrame, middle: str) -> pd.DataFrame:
    """Sums of money in three figures, as the brief prints them."""
    steps = [rounding_step(value) for value in rows[middle]]
    return rows.assign(**{name: (rows[name] / steps).round() * steps for name in (middle, "p10", "p90")})


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


def points_below(names: list[str], view: InView, key: str) -> None:
    """The wear points that a figure is made of; opening one leads to its page."""
    rows = view.forecast[view.forecast["point"].isin(names)].sort_values("miles_p05")
    if rows.empty:
        st.markdown(
            "No wear point belongs to this line: it is opening the engine, or work that findings foretell."
        )
        return
    from dashboard.screen.components import ranked

    opened = ranked(rows, view.units, caption=f"{len(rows)} wear points under this line.", key=key).opened
    wear_list.downloads(rows, view.units, key)
    if opened:
        address.go("views/point.py", point=opened)
