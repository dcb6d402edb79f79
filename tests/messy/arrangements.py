"""How readings are arranged on a sheet: long, wide, stacked, paired; and the layout that says so."""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd
from messy.grids import Grid
from messy.notations import ORDER, Notation, day_cell, written

WORDS = tomllib.loads((Path(__file__).parent / "headings.toml").read_text(encoding="utf-8"))
"""What the headings of a sheet are called, in five languages."""


Records = dict[int, dict[str, object]]
"""Records by label."""


@dataclass
class Style:
    """How one sheet is written.

    ``unit`` is the written unit of a record's wear point: "own" or one unit; ``unit_said``: in the heading, a
    column, a line above, the cells, or nowhere.
    """

    notation: Notation
    date_form: str
    language: str = "en"
    unit: str = "own"
    unit_said: str = "heading"
    odometer: bool = False
    distance: str = "own"
    distance_said: bool = True
    layout_says: bool = True
    """Whether the layout states decimal mark and order of dates."""

    def unit_of(self, own: str) -> str:
        """The unit in which a wear point of a unit is written here."""
        return own if self.unit == "own" else self.unit


@dataclass
class Arranged:
    """The sheet, where the value of each record stands, and the layout (None: the sheet needs none)."""

    grid: Grid
    read: Records
    layout: str | None = None
    where: dict[int, tuple[int, int]] = field(default_factory=dict)
    date_cells: dict[int, tuple[int, int]] = field(default_factory=dict)

    def put(self, place: tuple[int, int], label: int, style: Style, date_cell: tuple[int, int]) -> None:
        """Write the value of a record into a cell; what it is worth as written is kept with the record."""
        record = self.read[label]
        unit = style.unit_of(str(record["own_unit"]))
        cell, worth = written(style.notation, float(str(record["mm"])), unit)
        record |= {"unit": unit, "worth": worth}
        self.grid.put(*place, cell)
        self.where[label], self.date_cells[label] = place, date_cell

    def records(self, rows: pd.DataFrame) -> pd.DataFrame:
        """The records that stand on the sheet, each with its unit and worth as written."""
        rows = rows.loc[list(self.where)]
        told = {name: [self.read[label][name] for label in rows.index] for name in ("unit", "worth")}
        return rows.assign(**told)


def _top(style: Style) -> list[str]:
    lines = []
    if style.layout_says and style.date_form in ORDER:
        lines.append(f'dates = "{ORDER[style.date_form]}"')
    if style.layout_says and style.notation.decimal == ",":
        lines.append('decimal = ","')
    return lines


def layout_text(style: Style, lines: list[str], columns: dict[str, str] | None = None) -> str:
    """The layout that says so, up to its columns."""
    listed = [f'"{heading}" = "{column}"' for heading, column in (columns or {}).items()]
    return (
        "\n".join([*_top(style), "[[table]]", 'table = "readings"', *lines, "[table.columns]", *listed])
        + "\n"
    )


def long(records: pd.DataFrame, style: Style, *, parts: bool = False, hand: bool = False) -> Arranged:
    """One row a reading; the wear point by its name, or by engine, part, position and dimension."""
    words = WORDS[style.language]
    naming = ["vehicle", "component", "position", "quantity"] if parts or hand else ["point"]
    if hand:
        naming.insert(naming.index("position") + 1, "hand")
    columns = ["date", *naming, "value", "unit", "odometer", "observer", "gauge", "note"]
    dropped = {"unit": style.unit_said != "column", "odometer": not style.odometer}
    columns = [column for column in columns if not dropped.get(column)]
    units = {style.unit_of(unit) for unit in records["own_unit"]}
    heads = {column: words.get(column, "Hand") for column in columns}
    if style.unit_said == "heading" and len(units) == 1:
        heads["value"] += f" ({units.pop()})"
    if style.odometer and style.distance_said:
        heads["odometer"] += f" ({records['distance'].iloc[0]})"
    plain = style.language == "en" and not _top(style)
    meant = {heads[c]: c if c != "hand" else "position" for c in columns}
    out = Arranged(Grid(), records.to_dict("index"), None if plain else layout_text(style, [], meant))
    out.grid.row(0, list(heads.values()))
    at = columns.index("value")
    for row, (label, record) in enumerate(out.read.items(), start=1):
        base, _, side = str(record["position"]).rpartition(" ")
        cells = record | {"date": day_cell(style.date_form, record["date"]), "odometer": record["shown"]}
        cells |= {"position": base, "hand": side[0].upper()} if hand else {}
        cells["unit"] = style.unit_of(str(record["own_unit"]))
        out.grid.row(row, [cells.get(column) for column in columns])
        out.put((row, at), label, style, (row, 0))
    return out


def long_parts(records: pd.DataFrame, style: Style) -> Arranged:
    """One row a reading, the wear point told by what it is."""
    return long(records, style, parts=True)


def long_hand(records: pd.DataFrame, style: Style) -> Arranged:
    """One row a reading, the side in a column of its own."""
    return long(records, style, hand=True)


def wide_dates(records: pd.DataFrame, style: Style) -> Arranged:
    """A row a wear point, a column a day, under a title."""
    head = WORDS[style.language]["point"]
    days, points = sorted(records["date"].unique()), list(dict.fromkeys(records["point"]))
    lines = ["header = 3", *fixed_entries(unit_for_all(records, style))]
    toml = layout_text(style, lines, {head: "point"}) + '[table.spread]\nheadings = ["date"]\n'
    out = Arranged(Grid(), records.to_dict("index"), toml)
    out.grid.put(0, 0, f"{records['vehicle'].iloc[0]} 2020-2025")
    out.grid.row(2, [head, *(day_cell(style.date_form, day) for day in days)])
    for point in points:
        out.grid.put(3 + points.index(point), 0, point)
    for label, record in out.read.items():
        place = (3 + points.index(record["point"]), 1 + days.index(record["date"]))
        if place not in out.grid.cells:
            out.put(place, label, style, (2, place[1]))
    return out


def unit_for_all(records: pd.DataFrame, style: Style) -> str:
    """What a layout says of the unit where no heading can."""
    units = {style.unit_of(unit) for unit in records["own_unit"]}
    said = style.unit_said != "none" and len(units) == 1 and not style.notation.inline
    return f'unit = "{units.pop()}"' if said else ""


def fixed_entries(*entries: str) -> list[str]:
    """The line of a layout that says what holds for all rows."""
    listed = ", ".join(filter(None, entries))
    return [f"fixed = {{ {listed} }}"] if listed else []


def heading_of(kind: str, records: pd.DataFrame, style: Style) -> str:
    """The heading of a column of one quantity, with its unit where that is said."""
    row = records[records["kind"] == kind].iloc[0]
    said = style.unit_said != "none" and not style.notation.inline
    return f"{row['quantity']} ({style.unit_of(row['own_unit'])})" if said else str(row["quantity"])


def wide_quantities(records: pd.DataFrame, style: Style) -> Arranged:
    """A row a wheel and day, a column a dimension; engine and part hold for all."""
    words = WORDS[style.language]
    first = records.iloc[0]
    lines = fixed_entries(f'vehicle = "{first["vehicle"]}"', f'component = "{first["component"]}"')
    toml = layout_text(style, lines, {words["date"]: "date", words["position"]: "position"})
    out = Arranged(Grid(), records.to_dict("index"), toml + '[table.spread]\nheadings = ["quantity"]\n')
    _wheels(out, records, list(out.read), style, 0)
    return out


def _wheels(out: Arranged, records: pd.DataFrame, labels: list[int], style: Style, top: int) -> int:
    """Headings, and a row for each wheel and day of the labels; the next free row."""
    words = WORDS[style.language]
    kinds = list(dict.fromkeys(records["kind"]))
    heads = [heading_of(kind, records, style) for kind in kinds]
    out.grid.row(top, [words["date"], words["position"], *heads])
    rows: dict[tuple[object, object], int] = {}
    for label in labels:
        record = out.read[label]
        wheel = (record["date"], record["position"])
        if wheel not in rows:
            rows[wheel] = top + 1 + len(rows)
            out.grid.row(rows[wheel], [day_cell(style.date_form, record["date"]), record["position"]])
        place = (rows[wheel], 2 + kinds.index(record["kind"]))
        if place not in out.grid.cells:
            out.put(place, label, style, (place[0], 0))
    return top + 1 + len(rows)


def stacked(records: pd.DataFrame, style: Style) -> Arranged:
    """A block for each engine, one below the other, each with its own headings."""
    words = WORDS[style.language]
    lines = ["header = 2", f'blocks = {{ starts = "{words["vehicle"]}: *" }}', 'cells = { vehicle = "A1" }']
    lines += fixed_entries(f'component = "{records["component"].iloc[0]}"')
    toml = layout_text(style, lines, {words["date"]: "date", words["position"]: "position"})
    out = Arranged(Grid(), records.to_dict("index"), toml + '[table.spread]\nheadings = ["quantity"]\n')
    row = 0
    for vehicle, part in records.groupby("vehicle", sort=False):
        out.grid.put(row, 0, f"{words['vehicle']}: {vehicle}")
        row = _wheels(out, part, list(part.index), style, row + 1) + 1
    return out


def paired(records: pd.DataFrame, style: Style) -> Arranged:
    """A block for each day; left and right side by side under merged headings, a row an axle."""
    words = WORDS[style.language]
    first = records.iloc[0]
    kinds = list(dict.fromkeys(records["kind"]))
    lines = ["header = [2, 3]", 'blocks = { starts = "Inspection*" }', 'cells = { date = "A1" }']
    lines += fixed_entries(f'vehicle = "{first["vehicle"]}"', f'component = "{first["component"]}"')
    toml = layout_text(style, lines, {words["position"]: "position"})
    last = chr(ord("A") + 2 * len(kinds))
    toml += f'[table.spread]\ncolumns = ["B:{last}"]\nheadings = ["position", "quantity"]\n'
    toml += f'[words.position]\n"{words["left"]}" = "left"\n"{words["right"]}" = "right"\n'
    out = Arranged(Grid(), records.to_dict("index"), toml)
    row = 0
    for day, part in records.groupby("date", sort=False):
        row = _pair(out, (records, list(part.index)), style, (row, day)) + 1
    return out


def _pair(
    out: Arranged, which: tuple[pd.DataFrame, list[int]], style: Style, begin: tuple[int, object]
) -> int:
    """The block of one day; the next free row."""
    words, grid = WORDS[style.language], out.grid
    records, labels = which
    top, day = begin
    kinds, sides = list(dict.fromkeys(records["kind"])), ("left", "right")
    shown = day_cell(style.date_form if style.date_form != "real" else "iso", day).content
    grid.put(top, 0, f"Inspection: {shown}")
    grid.put(top + 2, 0, words["position"])
    for place, side in enumerate(sides):
        column = 1 + place * len(kinds)
        grid.put(top + 1, column, words[side])
        if len(kinds) > 1:
            grid.merged.append((top + 1, column, top + 1, column + len(kinds) - 1))
        for offset, kind in enumerate(kinds):
            grid.put(top + 2, column + offset, heading_of(kind, records, style))
    rows: dict[str, int] = {}
    for label in labels:
        record = out.read[label]
        axle, _, side = str(record["position"]).rpartition(" ")
        if axle not in rows:
            rows[axle] = top + 3 + len(rows)
            grid.put(rows[axle], 0, axle)
        place = (rows[axle], 1 + sides.index(side) * len(kinds) + kinds.index(record["kind"]))
        if place not in grid.cells:
            out.put(place, label, style, (top, 0))
    return top + 3 + len(rows)


ARRANGEMENTS: dict[str, Callable[[pd.DataFrame, Style], Arranged]] = {
    "long": long,
    "long by parts": long_parts,
    "long with hand": long_hand,
    "wide by date": wide_dates,
    "wide by dimension": wide_quantities,
    "stacked engines": stacked,
    "paired": paired,
}
ONE_ENGINE = ("wide by date", "wide by dimension", "paired")
ONE_PART = ("wide by dimension", "stacked engines", "paired")
