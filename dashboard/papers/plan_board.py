"""The plan for the board: one page, what is asked for, why, and what less would mean."""

import textwrap

import pandas as pd

from dashboard.papers.brief_svg import clean
from dashboard.papers.plan_documents import PAPERS, fits_one_page, part_of, table_of, typeset
from dashboard.papers.plan_sheets import caution_of
from dashboard.services.planning import PlanResult
from dashboard.words.plan_words import DEPTH_WORDS, changed_words, stops_words, why_words
from models.case.money import only_currency
from models.frequency import of_100

ROOM = ((5, 8), (5, 5), (4, 3), (3, 2), (3, 0), (2, 0), (1, 0))
"""How many of its next windows, and of the lines that must be done or pay, each engine has: the most that
the page has room for."""


def board_pdf(result: PlanResult, *, paper: str = "a4") -> bytes:
    """The plan on one page: each engine's next windows with their money, the chance that it must be taken out
    of service, what less risk costs, the dearest work of the next window with its reason."""
    about = result.about
    vehicles = list(dict.fromkeys(result.plan.windows["vehicle"]))
    for windows, lines in ROOM:
        printed = {
            "paper": PAPERS[paper],
            "title": "Overhaul plan for the board: " + clean(", ".join(vehicles)),
            "subtitle": f"As of {about['as_of']}, {about['years']:g} years planned. {_whole(result)}",
            "footer": f"milesleft, forecast {about['forecast']}",
            "alt": "",
            "paragraphs": _changed(result),
            "caution": caution_of(result),
            "parts": [part for name in vehicles for part in _engine(result, str(name), windows, lines)],
        }
        if fits_one_page(printed, ""):
            break
    return typeset(printed, "")


def _whole(result: PlanResult) -> str:
    """What all of it comes to."""
    amounts = result.plan.totals.groupby("what")["amount"].sum()
    currency = f" {clean(only_currency(result.plan.scope['currency']))}".rstrip()
    work, lost = (
        f"{amount:,.0f}{currency}" for amount in (amounts[["jobs", "opening"]].sum(), amounts["lost_days"])
    )
    return f"Work at today's prices costs {work}, days of service lost {lost}."


def _changed(result: PlanResult) -> list[str]:
    """What it changes in the approved plan, if there is one."""
    said = changed_words(result.changes, str(result.about.get("changes_since") or ""))
    return [clean(said)] if said else []


def _engine(result: PlanResult, vehicle: str, most: int, lines: int) -> list[dict[str, object]]:
    plan = result.plan
    scope = plan.scope[plan.scope["vehicle"] == vehicle]
    windows = plan.windows[(plan.windows["vehicle"] == vehicle) & (plan.windows["lines"] > 0)]
    table = _windows(result, windows.head(most), scope)
    parts = [part_of(clean(vehicle), 2, [_risk_words(result, vehicle)], table)]
    if len(windows) and lines:
        first = windows.iloc[0]
        own = scope[(scope["window"] == first["window"]) & (scope["kind"] != "inspection")]
        parts.append(part_of(f"The work that weighs most in {first['label']}", 3, [], _lines(own, lines)))
    return parts


def _risk_words(result: PlanResult, vehicle: str) -> str:
    """How often it must be taken out of service, and what less of it would cost."""
    seasons = result.plan.engine_risk
    own = seasons[(seasons["vehicle"] == vehicle) & (seasons["season"] > 0)]
    if own.empty:
        return ""
    said = stops_words(seasons[seasons["vehicle"] == vehicle])
    rungs = result.plan.frontier
    rungs = rungs[rungs["vehicle"] == vehicle]
    here = rungs[rungs["chosen"]]
    if here.empty:
        return said
    others = rungs.assign(told=rungs["chance"].map(of_100)).sort_values("money", kind="stable")
    others = others[others["told"] != of_100(here["chance"].iloc[0])].drop_duplicates("told")
    words = [
        f"{row['money']:,.0f} with {row['told']} stopped seasons in 100" for row in others.to_dict("records")
    ]
    cost = f" This plan costs {here['money'].iloc[0]:,.0f} with its lost days."
    return said + cost + (f" Instead there could be: {'; '.join(words)}." if words else "")


def _windows(result: PlanResult, windows: pd.DataFrame, scope: pd.DataFrame) -> dict[str, object]:
    amounts = result.amounts
    known = amounts.set_index(["vehicle", "window"])["p80"] if len(amounts) else pd.Series(dtype=float)
    rows = []
    for row in windows.to_dict("records"):
        need = scope.loc[scope["window"] == row["window"], "need"]
        counts = [str(int((need == name).sum())) for name in ("must", "should", "while_open")]
        enough = known.get((row["vehicle"], row["window"]), float("nan"))
        money = [f"{row['cost'] + row['opening_cost']:,.0f}", "-" if pd.isna(enough) else f"{enough:,.0f}"]
        lost = f"{row['lost_days']:.0f}"
        rows.append([row["label"], DEPTH_WORDS.get(str(row["depth"]), "-"), *counts, lost, *money])
    head = ["window", "opened to", "must", "should, it pays", "while it is open", "days of service lost"]
    head += ["today's prices", "enough 8 times in 10"]
    return table_of(head, [3, 2, 1, 1.4, 1.4, 1.6, 2, 2], [2, 3, 4, 5, 6, 7], rows)


def _lines(scope: pd.DataFrame, most: int) -> dict[str, object]:
    lines = scope.assign(why=why_words(scope), _open=scope["need"] == "while_open")
    lines = lines.sort_values(["_open", "cost"], ascending=[True, False], na_position="last").head(most)
    rows = [
        [
            clean(f"{row['component']} {row['action']}"),
            textwrap.shorten(clean(row["position"]), 60, placeholder=" …"),
            str(row["why"]),
            "no price" if pd.isna(row["cost"]) else f"{row['cost']:,.0f}",
            clean(row["reason"]),
        ]
        for row in lines.to_dict("records")
    ]
    return table_of(["work", "where", "need", "price today", "why"], [2.4, 2.6, 1.4, 1.2, 6], [3], rows)
