"""Arrangements that a person reads at once and no table holds: both sides in a cell, several readings."""

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path

import pandas as pd
from messy.arrangements import (
    WORDS,
    Arranged,
    Style,
    fixed_entries,
    layout_text,
    unit_for_all,
)
from messy.faults import Draft
from messy.grids import Grid
from messy.invented_railways import RAILWAYS
from messy.notations import Cell, day_cell, written

PARTS = tomllib.loads((Path(__file__).parent / "parts_abroad.toml").read_text(encoding="utf-8"))
"""What parts, quantities and axles are called in other languages, by kind of wear point."""
SIDE_LETTERS = {"en": "LR", "de": "LR", "fr": "GD", "pl": "LP", "cs": "LP"}
_BETTER = 12  # last figures by which the other of two readings is less worn


def both_in_cell(records: pd.DataFrame, style: Style) -> Arranged:
    """Left and right in one cell, each with its letter; the part in the words of the language."""
    left, right = SIDE_LETTERS[style.language]
    return _both(records, style, f"{left} {{}} / {right} {{}}", "")


def under_both(records: pd.DataFrame, style: Style) -> Arranged:
    """Two values in one cell under a heading such as L/R."""
    return _both(records, style, "{} / {}", "/".join(SIDE_LETTERS[style.language]))


def _both(records: pd.DataFrame, style: Style, form: str, heading: str) -> Arranged:
    words = WORDS[style.language]
    out = Arranged(Grid(), records.to_dict("index"), layout_text(style, []) if _stated(style) else None)
    unit = f" ({style.unit_of(records['own_unit'].iloc[0])})"
    heads = [words[name] for name in ("date", "vehicle", "component", "position", "quantity")]
    out.grid.row(0, [*heads, (heading or words["value"]) + unit])
    axles = records["position"].str.rpartition(" ")[0]
    row = 0
    for (day, vehicle, _kind, _), part in records.groupby(["date", "vehicle", "kind", axles], sort=False):
        if len(part) != 2:
            continue
        row += 1
        component, axle, quantity = _named(part.iloc[0], style)
        out.grid.row(row, [day_cell(style.date_form, day), vehicle, component, axle, quantity])
        said = []
        for label in part.sort_values("position").index:
            out.put((row, 5), label, style, (row, 0))
            said.append(str(out.grid.cells[row, 5].content))
        out.grid.put(row, 5, form.format(*said))
    return out


def _stated(style: Style) -> bool:
    """Whether a layout has anything to state."""
    return style.layout_says and (style.notation.decimal == "," or style.date_form.startswith(("dmy", "mdy")))


def _named(record: pd.Series, style: Style) -> tuple[str, str, str]:
    """Part, axle and quantity as the language calls them."""
    axle = record["position"].rpartition(" ")[0]
    if style.language == "en":
        return record["component"], axle, record["quantity"]
    words = PARTS[style.language]
    component, quantity = words[record["kind"]]
    return component, f"{words['axle']} {axle.split()[-1]}", quantity


def least_and_most(records: pd.DataFrame, style: Style) -> Arranged:
    """The least and the most that was read at a place, side by side: what is worn most holds."""
    words = WORDS[style.language]
    lines = fixed_entries(unit_for_all(records, style))
    toml = layout_text(style, lines, {words["date"]: "date", words["point"]: "point"})
    out = Arranged(
        Grid(), records.to_dict("index"), f'{toml}[table.spread]\ncolumns = ["C:D"]\nheadings = [""]\n'
    )
    out.grid.row(0, [words["date"], words["point"], "min", "max"])
    for row, (label, record) in enumerate(out.read.items(), start=1):
        out.grid.row(row, [day_cell(style.date_form, record["date"]), record["point"]])
        grows = float(str(record["limit"])) > float(str(record["new"]))
        out.put((row, 3 if grows else 2), label, style, (row, 0))
        sd = float(str(record["gauge_sd"]))
        better = float(str(record["worth"])) + (-1 if grows else 1) * max(sd, 0.02) * _BETTER / 4
        cell, _ = written(style.notation, max(better, 0.0), str(record["unit"]))
        out.grid.put(row, 2 if grows else 3, cell)
    return out


def points_across(records: pd.DataFrame, style: Style) -> Arranged:
    """A row a day, a column a wear point."""
    words = WORDS[style.language]
    lines = fixed_entries(unit_for_all(records, style))
    toml = layout_text(style, lines, {words["date"]: "date"})
    out = Arranged(Grid(), records.to_dict("index"), toml + '[table.spread]\nheadings = ["point"]\n')
    points, days = list(dict.fromkeys(records["point"])), sorted(records["date"].unique())
    out.grid.row(0, [words["date"], *points])
    for place, day in enumerate(days, start=1):
        out.grid.put(place, 0, day_cell(style.date_form, day))
    for label, record in out.read.items():
        place = (1 + days.index(record["date"]), 1 + points.index(record["point"]))
        out.put(place, label, style, (place[0], 0))
    return out


def engines_across(records: pd.DataFrame, style: Style) -> Arranged:
    """A row a wheel and day, a column an engine; one part and quantity for all."""
    words = WORDS[style.language]
    first = records.iloc[0]
    records = records[records["kind"] == first["kind"]]
    engines = list(dict.fromkeys(records["vehicle"]))
    said = unit_for_all(records, style)
    lines = fixed_entries(f'component = "{first["component"]}"', f'quantity = "{first["quantity"]}"', said)
    toml = layout_text(style, lines, {words["date"]: "date", words["position"]: "position"})
    out = Arranged(Grid(), records.to_dict("index"), toml + '[table.spread]\nheadings = ["vehicle"]\n')
    out.grid.row(0, [words["date"], words["position"], *engines])
    rows: dict[tuple[object, object], int] = {}
    for label, record in out.read.items():
        wheel = (record["date"], record["position"])
        row = rows.setdefault(wheel, 1 + len(rows))
        out.grid.row(row, [day_cell(style.date_form, record["date"]), record["position"]])
        out.put((row, 2 + engines.index(record["vehicle"])), label, style, (row, 0))
    return out


def long_abroad(records: pd.DataFrame, style: Style) -> Arranged:
    """One row a reading, part, axle and quantity in the words of the language."""
    words = WORDS[style.language]
    out = Arranged(Grid(), records.to_dict("index"), layout_text(style, []) if _stated(style) else None)
    heads = [
        words[name] for name in ("date", "vehicle", "component", "position", "quantity", "value", "unit")
    ]
    out.grid.row(0, heads)
    for row, (label, record) in enumerate(out.read.items(), start=1):
        component, axle, quantity = _named(pd.Series(record), style)
        side = words[str(record["position"]).rpartition(" ")[2]]
        named = [record["vehicle"], component, f"{axle} {side}", quantity]
        out.grid.row(row, [day_cell(style.date_form, record["date"]), *named])
        out.put((row, 5), label, style, (row, 0))
        out.grid.put(row, 6, Cell(record["unit"]))
    return out


WHEEL = {"en": "Wheel no.", "de": "Rad Nr.", "fr": "Roue n°", "pl": "Nr koła", "cs": "Kolo č."}
COUNTED = {
    "en": "pairs-left-first",
    "de": "left-side-first",
    "fr": "pairs-right-first",
    "pl": "right-side-first",
    "cs": "pairs-left-first",
}
"""How wheels are counted where they have numbers alone, by language (invented)."""
_AXLES = {engine.name: engine.axles for engines, _ in RAILWAYS.values() for engine in engines}


def wheel_ids(records: pd.DataFrame, style: Style) -> Arranged:
    """One row a reading, the wheel by an id that names axle and side: ``2L``, ``G1``."""
    letters = dict(zip(("left", "right"), SIDE_LETTERS[style.language], strict=True))
    form = ("{axle}{side}", "{side}{axle}", "{axle} {side}")[len(records) % 3]
    if style.language == "en" and len(records) % 2:
        form = "D{axle}{side}"

    def id_of(record: Mapping[str, object]) -> str:
        axle, side = str(record["position"]).split()[1:]
        return form.format(axle=axle, side=letters[side])

    return _by_wheel(records, style, id_of)


def wheels_counted(records: pd.DataFrame, style: Style) -> Arranged:
    """One row a reading, wheels counted from 1 through the engine."""

    def id_of(record: Mapping[str, object]) -> str:
        number, side = str(record["position"]).split()[1:]
        axle, way = int(number), COUNTED[style.language]
        second = side != ("left" if "left" in way else "right")
        along = axle + (_AXLES[str(record["vehicle"])] if second else 0)
        return str(2 * axle - (not second) if way.startswith("pairs") else along)

    return _by_wheel(records, style, id_of)


def _by_wheel(records: pd.DataFrame, style: Style, id_of: Callable[[Mapping[str, object]], str]) -> Arranged:
    words = WORDS[style.language] | {"position": WHEEL[style.language]}
    out = Arranged(Grid(), records.to_dict("index"), layout_text(style, []) if _stated(style) else None)
    names = ("date", "vehicle", "component", "position", "quantity", "value", "unit")
    out.grid.row(0, [words[name] for name in names])
    for row, (label, record) in enumerate(out.read.items(), start=1):
        component, _, quantity = _named(pd.Series(record), style)
        named = [record["vehicle"], component, id_of(record), quantity]
        out.grid.row(row, [day_cell(style.date_form, record["date"]), *named])
        out.put((row, 5), label, style, (row, 0))
        out.grid.put(row, 6, Cell(record["unit"]))
    return out


MORE: dict[str, Callable[[pd.DataFrame, Style], Arranged]] = {
    "both in a cell": both_in_cell,
    "under both": under_both,
    "least and most": least_and_most,
    "points across": points_across,
    "engines across": engines_across,
    "long in other words": long_abroad,
    "wheel ids": wheel_ids,
    "wheels counted": wheels_counted,
}
ONE_PART_HERE = ("engines across",)
ASKED = ("least and most", "wheels counted")
"""Arrangements that leave something to ask about however clean they are."""


def corrected_below(draft: Draft) -> None:
    """A row was wrong, and the right one stands at the end of the sheet, with a note."""
    rows = draft.records
    label = draft.rng.choice(rows.index)
    right = rows.loc[[label]].assign(note="corrected").set_axis([int(rows.index.max()) + 1])
    off = (-1 if rows.loc[label, "limit"] < rows.loc[label, "new"] else 1) * 0.2
    rows.loc[label, "mm"] += off * abs(rows.loc[label, "limit"] - rows.loc[label, "new"])
    rows.loc[label, "keep"] = "out"
    draft.records = pd.concat([rows, right])
    draft.facts["several"] = "last"
