"""The papers of an opening: scope for a contractor, what must be ordered, as-left record, inspector's folder.

Each line leads back to where it was read: file, sheet and row.
"""

from collections.abc import Callable, Hashable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from dashboard.papers.opening_text import OWN, place_of, size_words
from dashboard.papers.table_papers import Cell, Column, Paper, PaperTable
from dashboard.services.invented import is_invented
from dashboard.shop.as_left import agree, left_in, problems_of
from dashboard.shop.found import findings_of
from dashboard.shop.scope import scope_now
from dashboard.words.cautions import FORECAST_CAUTION, INVENTED
from dashboard.words.checks_text import finding_reasons
from dashboard.words.opening_words import STATE_WORDS, finding_words, open_words, verdict_words
from dashboard.words.records import as_records
from ingest import catalogue
from ingest.store import Store
from ingest.value_state import value_states
from models.case.opening_scope import OPEN
from models.case.to_finish import MONTH_D, months_for
from models.plan.jobs import kind_of_action

Opening = Mapping[Hashable, Any]
FROM: Column = ("from", "text", 30)
DIMENSION: list[Column] = [("component", "text", 20), ("dimension", "text", 18), ("where", "text", 18)]
WHAT = {
    "contractor": "Scope for a contractor, by trade",
    "orders": "What must be ordered",
    "as-left": "As-left record",
    "inspector": "Inspector's folder",
}
FOUNDRY, OTHER_TRADE = "foundry", "fitting"


def opening_paper(store: Store, opening: Opening, what: str, *, since: pd.Timestamp | None = None) -> Paper:
    """A paper of an opening, one of ``WHAT``.

    Parameters
    ----------
    since : of the inspector's folder, the day from which readings are listed; that on which the opening
        before this one was closed where it is not given.
    """
    makers: dict[str, Callable[[], list[PaperTable]]] = {
        "contractor": lambda: _contractor(store, opening),
        "orders": lambda: _orders(store, opening),
        "as-left": lambda: _as_left(store, opening),
        "inspector": lambda: _inspector(store, opening, since),
    }
    caution = f"{INVENTED} {FORECAST_CAUTION}" if is_invented(store) else FORECAST_CAUTION
    title = f"{WHAT[what]}: {opening['opening']}"
    subtitle = f"{open_words(opening)}; data version {store.version()}"
    return Paper(title, subtitle, caution, makers[what]())


def trade_of(row: Mapping[Hashable, Any]) -> str:
    """Trade of a line of a scope: as it was told, else by the words of what is done."""
    if str(row["trade"]).strip():
        return str(row["trade"]).strip().lower()
    action = str(row["action"]).strip().lower()
    for entry in catalogue.table_of("trades").to_dict("records"):
        if any(action == word or action.startswith(f"{word} ") for word in str(entry["words"]).split("|")):
            return str(entry["trade"])
    return OTHER_TRADE


def _contractor(store: Store, opening: Opening) -> list[PaperTable]:
    """Open lines by trade, with empty columns for a quotation."""
    scope = scope_now(store, opening)
    lines = scope.ahead.lines[scope.ahead.lines["state"] == OPEN]
    places = _places(store, opening)
    columns: list[Column] = [
        ("component", "text", 20), ("work", "text", 12), ("where", "text", 32), ("parts", "number", 6),
        ("hours", "number", 7), ("why", "text", 24), FROM, ("quoted price", "money", 10),
        ("quoted days", "number", 8),
    ]  # fmt: skip
    by_trade: dict[str, list[list[Cell]]] = {}
    for row in lines.to_dict("records"):
        why = str(row["note"]) or str(row["origin"])
        cells: list[Cell] = [
            row["component"],
            row["action"],
            row["position"],
            row["parts"],
            row["hours"],
            why,
        ]
        by_trade.setdefault(trade_of(row), []).append([*cells, _place(row, places), None, None])
    order = [*catalogue.table_of("trades")["trade"], OTHER_TRADE]
    known = sorted(by_trade, key=lambda trade: (order.index(trade) if trade in order else len(order), trade))
    return [PaperTable(trade.capitalize(), columns, by_trade[trade]) for trade in known] or [
        PaperTable("Scope", columns, [])
    ]


def _orders(store: Store, opening: Opening) -> list[PaperTable]:
    """What open lines need that must be had first, the latest to arrive first."""
    scope = scope_now(store, opening)
    lead = store.read("lead_times")
    lines = scope.ahead.lines
    needs = np.array([_needs(row, lead) for row in lines.to_dict("records")], dtype=bool)
    lines = lines[(lines["state"] == OPEN).to_numpy() & needs]
    places = _places(store, opening)
    rows: list[tuple[pd.Timestamp, list[Cell]]] = []
    for row in lines.to_dict("records"):
        months = months_for(lead, row["component"], row["action"])
        ordered = row["ordered"] if pd.notna(row["ordered"]) else None
        there = (ordered or scope.today) + pd.Timedelta(days=MONTH_D * months)
        item, supplier = _supplied(lead, row)
        stands = "" if ordered is None else "ordered"
        cells: list[Cell] = [row["component"], row["action"], row["position"], row["parts"], item, supplier]
        told = months if months else None
        rows.append((there, [*cells, told, ordered, stands, there if months else None, _place(row, places)]))
    rows.sort(key=lambda pair: pair[0], reverse=True)
    columns: list[Column] = [
        ("component", "text", 20), ("work", "text", 12), ("where", "text", 26), ("parts", "number", 6),
        ("what is ordered", "text", 18), ("from whom", "text", 14), ("months", "number", 7),
        ("ordered on", "date", 10), ("stands", "text", 9), ("there by", "date", 10), FROM,
    ]  # fmt: skip
    said = f"What is not ordered yet is there by the day named if it is ordered on {scope.today:%Y-%m-%d}."
    none = "Lines without months have no lead time on record: ask the supplier."
    return [PaperTable("Orders", columns, [cells for _, cells in rows], [said, none] if rows else [])]


def _as_left(store: Store, opening: Opening) -> list[PaperTable]:
    """Dimensions as left, what does not agree, findings with their verdict."""
    left = left_in(store, opening)
    columns: list[Column] = [
        *DIMENSION, ("as left", "text", 12), ("new", "text", 11), ("to leave the shop", "text", 11),
        ("condemned", "text", 11), ("state", "text", 16), ("how", "text", 14), ("on", "date", 10), FROM,
    ]  # fmt: skip
    rows: list[list[Cell]] = []
    for row in left[left["how"] != ""].to_dict("records"):
        figures = [
            OWN.text(row[name], str(row["unit"]))
            for name in ("value", "new_value", "shop_limit", "condemning_limit")
        ]
        how = "measured" if row["how"] == "left" else "as it was found"
        about: list[Cell] = [row["component"], row["quantity"], row["position"]]
        rows.append([*about, *figures, STATE_WORDS[row["state"]], how, row["date"], place_of(row)])
    missing = int((left["how"] == "").sum())
    words = [f"{missing} of {len(left)} wear points were not measured in this opening."] if missing else []
    return [
        PaperTable("As left", columns, rows, words),
        _disagreeing(store, opening),
        _findings(store, opening),
    ]


def _disagreeing(store: Store, opening: Opening) -> PaperTable:
    """What is past what it must agree with."""
    columns: list[Column] = [
        ("check", "text", 22), ("where", "text", 20), ("wear points", "text", 26), ("verdict", "text", 18),
        ("why and what puts it right", "text", 50),
    ]  # fmt: skip
    rows: list[list[Cell]] = [
        [
            str(row["check"]),
            str(row["position"]),
            str(row["points"]),
            str(row["verdict"]),
            finding_reasons(row),
        ]
        for row in as_records(problems_of(agree(store, opening)))
    ]
    return PaperTable("What does not agree", columns, rows)


def _findings(store: Store, opening: Opening) -> PaperTable:
    columns: list[Column] = [("finding", "text", 60), ("verdict", "text", 18), ("on", "date", 10), FROM]
    located = findings_of(store.read("defects"), str(opening["opening"]))
    rows: list[list[Cell]] = [
        [finding_words(row, size_words(row)), verdict_words(row), row["date"], place_of(row)]
        for row in located.to_dict("records")
    ]
    return PaperTable("Findings", columns, rows)


def _inspector(store: Store, opening: Opening, since: pd.Timestamp | None) -> list[PaperTable]:
    """All readings of the engine from a day on until the opening ended, one table a component."""
    tables = store.read_all("readings", "wear_points", "openings")
    first = since if since is not None else _last_closed(tables["openings"], opening)
    points = tables["wear_points"]
    own = points[points["vehicle"] == opening["vehicle"]]
    readings = _until_its_end(tables["readings"], opening)
    if first is not None:
        readings = readings[readings["date"] > first]
    about = ["point", "component", "position", "quantity", "unit", "per_base"]
    limits = ["new_value", "condemning_limit", "shop_limit", "condemned_when"]
    rows = readings.merge(own[[*about, *limits]], on="point", suffixes=("_read", ""))
    rows["state"] = value_states(rows["value"], rows)
    rows = rows.sort_values(["component", "position", "quantity", "date"], kind="stable")
    columns: list[Column] = [
        ("dimension", "text", 14), ("where", "text", 15), ("on", "date", 10), ("reading", "text", 10),
        ("limit", "text", 10), ("state", "text", 15), ("odometer", "money", 10), ("gauge", "text", 12),
        ("by", "text", 8), ("from", "text", 46),
    ]  # fmt: skip
    made = []
    for component, part in rows.groupby("component", sort=True):
        cells: list[list[Cell]] = []
        for row in part.to_dict("records"):
            per, unit = float(row["per_base"]), str(row["unit"])
            figures = [OWN.text(row[name] * per, unit) for name in ("value", "condemning_limit")]
            head: list[Cell] = [row["quantity"], row["position"], row["date"], *figures]
            more: list[Cell] = [STATE_WORDS[row["state"]], row["odometer"], row["gauge"], row["observer"]]
            cells.append([*head, *more, place_of(row)])
        made.append(PaperTable(str(component), columns, cells))
    begins = "all that are on record" if first is None else f"those after {first:%Y-%m-%d}"
    ends: str = "" if pd.isna(opening["until"]) else f", up to {opening['until']:%Y-%m-%d}"
    said = f"{len(rows):,} readings of the running gear: {begins}{ends}."
    cover = PaperTable("What is in it", [], [], [said])
    return [cover, *made, _findings(store, opening)]


def _until_its_end(readings: pd.DataFrame, opening: Opening) -> pd.DataFrame:
    """What was read before the opening ended; of one that lies open, all."""
    return readings if pd.isna(opening["until"]) else readings[readings["date"] <= opening["until"]]


def _last_closed(openings: pd.DataFrame, opening: Opening) -> pd.Timestamp | None:
    """Day on which the engine's opening before this one was closed."""
    before = openings[(openings["vehicle"] == opening["vehicle"]) & (openings["since"] < opening["since"])]
    last = before["until"].max()
    return None if pd.isna(last) else pd.Timestamp(last)


def _needs(row: Mapping[Hashable, Any], lead: pd.DataFrame) -> bool:
    """Whether something must be had for a line: what is machined, welded or looked at stays in place."""
    told = pd.notna(row["ordered"]) or months_for(lead, row["component"], row["action"]) > 0
    return told or kind_of_action(row["action"]) == "renewed" or trade_of(row) == FOUNDRY


def _supplied(lead: pd.DataFrame, row: Mapping[Hashable, Any]) -> tuple[str, str]:
    same = lead["component"].str.strip().str.lower() == str(row["component"]).strip().lower()
    rows = lead[same & lead["action"].str.strip().str.lower().isin(["", str(row["action"]).strip().lower()])]
    return tuple(
        "; ".join(dict.fromkeys(text for text in rows[name] if text)) for name in ("item", "supplier")
    )  # type: ignore[return-value]


def _places(store: Store, opening: Opening) -> dict[str, str]:
    """Where the last reading of each wear point, and each defect of the opening, was written down."""
    tables = store.read_all("readings", "defects", "wear_points")
    points = tables["wear_points"]
    own = points.loc[points["vehicle"] == opening["vehicle"], "point"]
    readings = _until_its_end(tables["readings"], opening)
    last = readings[readings["point"].isin(own)].sort_values("date", kind="stable")
    places = {
        str(row["point"]): place_of(row)
        for row in last.drop_duplicates("point", keep="last").to_dict("records")
    }
    defects = tables["defects"][tables["defects"]["opening"] == opening["opening"]]
    for row in defects.to_dict("records"):
        places[_where(row)] = place_of(row)
    return places


def _place(row: Mapping[Hashable, Any], places: Mapping[str, str]) -> str:
    """Where a line of a scope comes from; added lines say who added them."""
    if row["point"]:
        return places.get(str(row["point"]), "")
    return places.get(_where(row), f"added by {row['who']}" if row["who"] else "added")


def _where(row: Mapping[Hashable, Any]) -> str:
    place = row["position"] or row.get("part_no", "")
    return f"{str(row['component']).strip().lower()}|{str(place).strip().lower()}"
