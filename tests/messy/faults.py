"""What goes wrong on sheets, and what must then be stored. Each fault says which cells it touched.

A fault works on what was measured (``BEFORE``) or on the written sheet (``AFTER``). ``keep`` of a record says
what must become of it: "in" as written, "out" never, "either".
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pandas as pd
from messy.arrangements import Arranged, Style
from messy.grids import Grid
from messy.invented_railways import PER_UNIT, Railway
from messy.notations import Cell, written
from messy.records import again_from_new, rounded_to


@dataclass
class Draft:
    """A sheet in the making, and what its writer knows."""

    rng: np.random.Generator
    railway: Railway
    records: pd.DataFrame
    style: Style
    arranged: Arranged | None = None
    extra: list[Grid] = field(default_factory=list)
    facts: dict[str, object] = field(default_factory=dict)
    work: list[dict[str, object]] = field(default_factory=list)
    copy: bool = False

    @property
    def grid(self) -> Grid:
        """The written sheet."""
        assert self.arranged is not None
        return self.arranged.grid


RENEWED = {
    "en": [
        "new brg fitted",
        "renewed",
        "new part fitted before reading",
        "replaced at overhaul",
        "changed for new",
    ],
    "de": ["neu ausgegossen", "erneuert", "neues Teil eingebaut", "ausgetauscht"],
    "fr": ["remplacé", "pièce neuve montée", "changé à neuf"],
    "pl": ["wymieniono na nowe", "nowa część założona", "wymieniony"],
    "cs": ["vyměněno za nové", "nový díl namontován", "vyměněn"],
}
NOT_RENEWED = {
    "en": ["not renewed", "renew next winter", "due for renewal", "new gauge used", "no change"],
    "de": ["nicht erneuert", "nächsten Winter erneuern", "zur Erneuerung vorgesehen"],
    "fr": ["pas remplacé", "à remplacer l'hiver prochain"],
    "pl": ["nie wymieniono", "do wymiany zimą"],
    "cs": ["nevyměněno", "vyměnit příští zimu"],
}


def _points(draft: Draft, least: int = 3) -> list[str]:
    count = draft.records.groupby("point").size()
    return [str(point) for point in count.index[count >= least]]


CUT = {
    "en": ["tires turned", "reprofiled", "trued in the lathe"],
    "de": ["abgedreht", "reprofiliert"],
    "fr": ["reprofilé", "rectifié"],
    "pl": ["przetoczono", "toczono"],
    "cs": ["osoustruženo", "přetočeno"],
}


def _a_renewal(
    draft: Draft, note: str, *, newest: bool = False, kinds: str = "TFJPBD", action: str = "renewed"
) -> None:
    rows, rng = draft.records, draft.rng
    able = [p for p in _points(draft) if draft.railway.points.loc[p, "kind"] in kinds]
    if not able:
        return
    point = str(rng.choice(able))
    days = sorted(rows.loc[rows["point"] == point, "date"].unique())
    since = days[-1] if newest else days[int(rng.integers(1, len(days) - 1))]
    again_from_new(rows, point, since, rng)
    rows.loc[(rows["point"] == point) & (rows["date"] == since), "note"] = note
    before = days[days.index(since) - 1]
    draft.work.append({"point": point, "from": before, "until": since, "action": action})


def renewed_in_note(draft: Draft) -> None:
    """A renewal that only the note beside the first reading after it tells."""
    _a_renewal(draft, str(draft.rng.choice(RENEWED[draft.style.language])))


def renewed_untold(draft: Draft) -> None:
    """A renewal that nothing tells but the values."""
    _a_renewal(draft, "")


def renewed_newest(draft: Draft) -> None:
    """A renewal just before the newest reading, untold."""
    _a_renewal(draft, "", newest=True)


def cut_in_note(draft: Draft) -> None:
    """A tire was turned, so that its hollow is gone; the note beside the next reading tells it."""
    _a_renewal(draft, str(draft.rng.choice(CUT[draft.style.language])), kinds="H", action="cut")


def cut_untold(draft: Draft) -> None:
    """A tire was turned, and nothing tells it but the hollow that is gone."""
    _a_renewal(draft, "", kinds="H", action="cut")


def odometer_replaced(draft: Draft) -> None:
    """Another odometer was fitted between two of the days, and nobody wrote it down."""
    rows = draft.records
    days = sorted(rows["date"].unique())
    later = rows["date"] >= days[len(days) // 2]
    for vehicle, part in rows[later].groupby("vehicle"):
        first = part["shown"].min()
        rows.loc[later & (rows["vehicle"] == vehicle), "shown"] += 300 - first
    draft.facts["odometer"] = "log"


def not_renewed_in_note(draft: Draft) -> None:
    """Notes that speak of renewal where nothing was renewed."""
    rows = draft.records
    for label in draft.rng.choice(rows.index, size=min(3, len(rows)), replace=False):
        rows.loc[label, "note"] = str(draft.rng.choice(NOT_RENEWED[draft.style.language]))


def noisy(draft: Draft) -> None:
    """Readings that go back a little now and then, as gauges and hands do."""
    rows = draft.records
    rows["mm"] += 0.6 * rows["gauge_sd"] * draft.rng.standard_normal(len(rows))
    rows["mm"] = rows["mm"].where(rows["kind"] != "H", rows["mm"].clip(lower=0.0))


def other_gauge(draft: Draft) -> None:
    """One day was read with another gauge, which reads high by half of the wear so far."""
    rows = draft.records
    day = str(draft.rng.choice([str(d) for d in sorted(rows["date"].unique())[1:]]))
    own = rows["date"].astype(str) == day
    toward_new = 0.18 * (rows["new"] - rows["limit"])
    rows.loc[own, "mm"] = (rows["mm"] + toward_new)[own]
    rows["mm"] = rows["mm"].where(rows["kind"] != "H", rows["mm"].clip(lower=0.0))
    rows.loc[own, "gauge"] = "new caliper"
    draft.facts["jump"] = "gauge"


def zero(draft: Draft) -> None:
    """A value was left 0."""
    _slip(draft, lambda mm, unit: 0.0, kinds="TFJPD")


def point_lost(draft: Draft) -> None:
    """The decimal mark was left out."""
    _slip(draft, lambda mm, unit: mm * (1000 if unit == "in" else 100), kinds="TFJPBD")


def ten_times(draft: Draft) -> None:
    """The decimal mark stands one place too far to the right, or to the left."""
    by = float(draft.rng.choice([10.0, 0.1]))
    _slip(draft, lambda mm, unit: mm * by, kinds="TFJPD")


def pin_of_88(draft: Draft) -> None:
    """A figure of another kind of thing: a pin of 88 in."""
    _slip(draft, lambda mm, unit: 88 * PER_UNIT["in"], kinds="TFJPB")


def _slip(draft: Draft, wrong: Callable[[float, str], float], kinds: str) -> None:
    rows = draft.records
    able = rows.index[rows["kind"].isin(list(kinds))]
    for label in draft.rng.choice(able, size=min(2, len(able)), replace=False):
        unit = draft.style.unit_of(rows.loc[label, "own_unit"])
        if unit == "thou" and wrong(1.0, unit) == 0.1:
            continue
        rows.loc[label, "mm"] = wrong(rows.loc[label, "mm"], unit)
        rows.loc[label, "keep"] = "out"


def struck_out(draft: Draft) -> None:
    """A wrong value was struck out, and the right one written into the next free row or beside it."""
    grid, arranged = draft.grid, draft.arranged
    assert arranged is not None
    labels = draft.rng.choice(draft.records.index, size=min(2, len(draft.records)), replace=False)
    for label in labels:
        row = arranged.where[label][0]
        for place in [place for place in grid.cells if place[0] == row]:
            grid.cells[place] = replace(grid.cells[place], struck=True)
        gone = [k for k, (r, _) in arranged.where.items() if r == row]
        draft.records.loc[gone, "keep"] = "out"
    draft.facts["struck"] = "leave"


def hidden_column(draft: Draft) -> None:
    """A column of values that were wrong was hidden; where there is one column of them, that of names."""
    arranged = draft.arranged
    assert arranged is not None
    columns = sorted({column for _, column in arranged.where.values()})
    if len(columns) > 1:
        draft.grid.hidden_columns.add(columns[-1])
        gone = [k for k, (_, column) in arranged.where.items() if column == columns[-1]]
        draft.records.loc[gone, "keep"] = "out"
        draft.facts["hidden"] = "leave"
    else:
        draft.grid.hidden_columns.add(0)
        draft.facts["hidden"] = "take"


def partly_struck(draft: Draft) -> None:
    """In two cells the value was struck out and another written behind it."""
    arranged = draft.arranged
    assert arranged is not None
    for label in draft.rng.choice(draft.records.index, size=min(2, len(draft.records)), replace=False):
        row, column = arranged.where[label]
        cell = draft.grid.cells[row, column]
        draft.grid.cells[row, column] = replace(cell, content=str(cell.content), struck_before="1")
        draft.records.loc[label, "keep"] = "out"


def titled(draft: Draft) -> None:
    """Lines of words stand above the headings."""
    _down(draft, 3)
    draft.grid.put(0, 0, f"Measured on {draft.records['vehicle'].iloc[0]}")
    draft.grid.put(1, 0, "by the shop, all sizes as found")


def _down(draft: Draft, by: int) -> None:
    """Make room above the headings."""
    arranged = draft.arranged
    assert arranged is not None
    draft.grid.down(by)
    arranged.where = {label: (row + by, column) for label, (row, column) in arranged.where.items()}
    arranged.date_cells = {label: (row + by, column) for label, (row, column) in arranged.date_cells.items()}


def dittoed(draft: Draft) -> None:
    """What stands in the cell above is not written again but marked so."""
    arranged = draft.arranged
    assert arranged is not None
    mark = str(draft.rng.choice(["″", "do.", "dto.", ",,"]))
    cells = draft.grid.cells
    rows = sorted({row for row, _ in arranged.where.values()})
    for column in {column for _, column in arranged.date_cells.values()}:
        alike = [
            b for a, b in pairwise(rows) if b == a + 1 and cells.get((a, column)) == cells.get((b, column))
        ]
        for row in alike:
            cells[row, column] = Cell(mark)


def dated_once(draft: Draft) -> None:
    """A day stands in the first row of its group alone."""
    arranged = draft.arranged
    assert arranged is not None
    cells = draft.grid.cells
    rows = sorted({row for row, _ in arranged.where.values()})
    for column in {column for _, column in arranged.date_cells.values()}:
        day = [cells.get((row, column)) for row in rows]
        for row in [
            b
            for (a, b), (one, then) in zip(pairwise(rows), pairwise(day), strict=True)
            if one == then and b == a + 1
        ]:
            cells.pop((row, column))


def hidden_rows(draft: Draft) -> None:
    """Rows that were wrong were hidden instead of deleted."""
    arranged = draft.arranged
    assert arranged is not None
    rows = sorted({row for row, _ in arranged.where.values()})
    for row in draft.rng.choice(rows[1:] or rows, size=min(2, len(rows) - 1 or 1), replace=False):
        draft.grid.hidden_rows.add(int(row))
        gone = [k for k, (r, _) in arranged.where.items() if r == row]
        draft.records.loc[gone, "keep"] = "out"
    draft.facts["hidden"] = "leave"


def filtered(draft: Draft) -> None:
    """A filter hides rows that are as good as the others."""
    arranged = draft.arranged
    assert arranged is not None
    rows = sorted({row for row, _ in arranged.where.values()})
    draft.grid.hidden_rows |= set(rows[1::3])
    draft.facts["hidden"] = "take"


def average_row(draft: Draft) -> None:
    """A last row of averages under the values."""
    from messy.arrangements import WORDS

    arranged, grid = draft.arranged, draft.grid
    assert arranged is not None
    word = WORDS[draft.style.language]["average"]
    last = grid.n_rows
    columns = sorted({column for _, column in arranged.where.values()})
    grid.put(last, 0, word)
    for column in columns:
        labels = [k for k, (_, c) in arranged.where.items() if c == column]
        unit = draft.records.loc[labels[0], "unit"]
        cell, _ = written(draft.style.notation, float(draft.records.loc[labels, "worth"].mean()), unit)
        grid.put(last, column, cell)
    if (
        int(draft.rng.integers(2)) and columns[0] > 1
    ):  # the label stands in the second column, as if it were a point
        grid.cells[last, 1] = grid.cells.pop((last, 0))
        first = arranged.date_cells[next(iter(arranged.where))]
        grid.cells[last, 0] = grid.cells[first]


def swapped_dates(draft: Draft) -> None:
    """A program that expects the month first made dates of what it could, and left the rest as text."""
    arranged, grid = draft.arranged, draft.grid
    assert arranged is not None
    for label, place in arranged.date_cells.items():
        day: date = draft.records.loc[label, "date"]
        if day.day <= 12:
            grid.cells[place] = Cell(date(day.year, day.day, day.month), shown_as="dd/mm/yyyy")
        else:
            grid.cells[place] = Cell(f"{day:%d/%m/%Y}")
    draft.facts["dates"] = "swapped"


def last_years_sheet(draft: Draft) -> None:
    """The workbook still has last year's sheet: what the store holds already, rounded a little otherwise."""
    stored = draft.railway.tables.get("readings")
    if stored is None:
        return
    old = stored[stored["point"].isin(draft.records["point"].unique())]
    grid = Grid("old")
    grid.row(0, ["Date", "Point", "Value", "Unit", "Observer"])
    own = draft.railway.points["unit"]
    for row, reading in enumerate(old.to_dict("records"), start=1):
        unit = own[reading["point"]]
        cells = [reading["date"], reading["point"], float(reading["value"]), unit, reading["observer"]]
        grid.row(row, cells)
    draft.extra.append(grid)


def old_draft_hidden(draft: Draft) -> None:
    """A hidden sheet holds a first draft with other values."""
    grid = Grid("draft", hidden=True)
    grid.row(0, ["Date", "Point", "Value", "Unit"])
    for row, (_, record) in enumerate(draft.records.iterrows(), start=1):
        unit = record["own_unit"]
        off = record["worth"] + 25 * rounded_to(unit)
        grid.row(row, [record["date"].isoformat(), record["point"], round(off / PER_UNIT[unit], 3), unit])
    draft.extra.append(grid)
    draft.facts["hidden"] = "leave"


def second_copy(draft: Draft) -> None:
    """The sheet comes again, with small corrections: the later copy is right."""
    draft.copy = True


def copied_later(draft: Draft) -> None:
    """The sheet comes again with small corrections, each inspection under the day on which it was copied."""
    draft.copy = True
    draft.facts["days"] = int(draft.rng.integers(2, 15))


def zeros_unseen(draft: Draft) -> None:
    """Cells that were never filled hold a zero, of which their format shows nothing."""
    arranged = draft.arranged
    assert arranged is not None
    for label in draft.rng.choice(draft.records.index, size=min(2, len(draft.records)), replace=False):
        draft.grid.cells[arranged.where[label]] = Cell(0.0, shown_as="0.000;-0.000;;@")
        draft.records.loc[label, "keep"] = "out"
    draft.facts["hidden"] = "leave"


def legend_above(draft: Draft) -> None:
    """A line above the headings says what a color means; nothing on this sheet is in it."""
    _down(draft, 2)
    draft.grid.put(0, 0, str(draft.rng.choice(["red = doubtful", "gelb: geschätzt", "rouge = estimé"])))
    draft.facts["legend"] = "take"


def turned(draft: Draft) -> None:
    """The headings stand in the first column, and a reading in each of the others."""
    grid, arranged = draft.grid, draft.arranged
    assert arranged is not None
    grid.cells = {(column, row): cell for (row, column), cell in grid.cells.items()}


def odometer_in_km(draft: Draft) -> None:
    """Odometers of a mile engine were noted in kilometers; only a note says so."""
    rows = draft.records
    miles = rows["distance"] == "mi"
    rows.loc[miles, "shown"] = (rows["shown"] * 1.609344)[miles].round()
    rows.loc[miles, "miles"] = rows.loc[miles, "shown"] / 1.609344
    rows.loc[rows.index[0], "note"] = "odo in km"
    draft.style.distance_said = False
    draft.facts["odometer"] = "km"


def day_is_late(draft: Draft) -> None:
    """A year was written a century or a decade off."""
    rows = draft.records
    label = draft.rng.choice(rows.index)
    day: date = rows.loc[label, "date"]
    rows["date"] = rows["date"].mask(
        rows.index == label, day.replace(day=min(day.day, 28), year=day.year + 10)
    )
    rows.loc[label, "keep"] = "out"


BEFORE = {
    made.__name__: made
    for made in (
        renewed_in_note, renewed_untold, renewed_newest, not_renewed_in_note, noisy, other_gauge, zero,
        point_lost,
        ten_times, pin_of_88, odometer_in_km, day_is_late, cut_in_note, cut_untold, odometer_replaced,
    )
}  # fmt: skip
AFTER = {
    made.__name__: made
    for made in (
        struck_out, hidden_rows, filtered, average_row, swapped_dates, last_years_sheet, old_draft_hidden,
        second_copy, hidden_column, partly_struck, titled, dittoed,
        copied_later, zeros_unseen, legend_above, turned, dated_once,
    )
}  # fmt: skip
HARMLESS = ("", "noisy", "not_renewed_in_note", "last_years_sheet", "titled", "dittoed", "turned")
"""Faults that are none: such a sheet may raise no question."""


def corrected(draft: Draft) -> Draft:
    """The second copy: one value in eight a little otherwise, and one day put right."""
    rows = draft.records.copy()
    labels = draft.rng.choice(rows.index, size=max(1, len(rows) // 8), replace=False)
    for label in labels:
        unit = draft.style.unit_of(rows.loc[label, "own_unit"])
        rows.loc[label, "mm"] = rows.loc[label, "worth"] + draft.rng.choice([-3, -2, 2, 3]) * rounded_to(unit)
    rows["date"] = [day + timedelta(days=int(str(draft.facts.get("days", 0)))) for day in rows["date"]]
    return replace(draft, records=rows, arranged=None, extra=[], copy=False)


def one_day_later(day: date) -> date:
    """The next day."""
    return day + timedelta(days=1)
