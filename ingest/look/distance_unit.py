"""Miles or kilometres, where an odometer names neither.

The rule is the unit of the vehicle's log, and miles where there is none. It is asked about where the log
speaks otherwise, where the numbers fit the log only in the other unit, where notes tell of kilometres, and
where the first log of an engine that is measured in millimetres names no unit.
"""

import re
from collections.abc import Iterator

import pandas as pd

from ingest import units
from ingest.figures import limit
from ingest.look.odometer_fit import fits_log
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.names.points import by_point
from ingest.notation.stated import DISTANCE

_KILOMETRES = re.compile(r"\b(?:kms?|kilom[eé]t\w*)\b", re.IGNORECASE)
_BARE = r"[0-9][0-9.,]*"
_SHOWN = 5


def judge_distance_unit(sheet: Sheet) -> Iterator[Question]:
    """Ask for the unit of odometers that name none."""
    if sheet.table not in ("mileage", "readings") or sheet.rows is None or sheet.rows.empty:
        return
    column = "odometer" if (sheet.text("odometer") != "").any() else "distance"
    text = sheet.text(column)
    bare = text.str.fullmatch(_BARE) & (sheet.text(f"unit:{column}") == "") & (sheet.text(DISTANCE) == "")
    if sheet.table == "mileage":
        bare &= sheet.text("unit") == ""
    rows = sheet.rows[bare.reindex(sheet.rows.index).to_numpy(dtype=bool)]
    if rows.empty:
        return
    for vehicle, part in _of_vehicles(sheet, rows).groupby("vehicle", sort=False):
        yield _question(sheet, column, str(vehicle), part)


def _why(sheet: Sheet, rows: pd.DataFrame, was: str) -> str:
    """Why the odometers of a vehicle may be in another unit than they were read in; "" if nothing says so."""
    log = sheet.known["mileage"]
    as_read = fits_log(rows, rows["odometer_read"], sheet.known)
    figure = rows["odometer_read"] / units.per_unit(was)
    otherwise = fits_log(rows, figure * units.per_unit(_OTHER[was]), sheet.known)
    bad, judged = (as_read == 0).sum(), as_read.notna().sum()
    if bad >= max(2, limit("look", "unit_share") * judged) and otherwise.mean() > as_read.mean():
        return f"read in {_NAMES[was]}, they do not fit the mileage log"
    if sheet.table == "mileage" and (log["unit"][log["vehicle"].isin(rows["vehicle"])] == "km").any():
        return "the log so far is in kilometres"
    return ""


_OTHER = {"mi": "km", "km": "mi"}
_NAMES = {"mi": "miles", "km": "kilometres"}


def _of_vehicles(sheet: Sheet, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows with their vehicle."""
    if "vehicle" in rows:
        return rows
    vehicles = by_point(sheet.known["wear_points"])["vehicle"]
    return rows.assign(vehicle=rows["point"].map(vehicles).astype(object).fillna("").astype("str"))


def _read_in(sheet: Sheet, rows: pd.DataFrame) -> str:
    """The unit in which the odometers were read unasked: of most rows."""
    if sheet.table == "mileage":
        return "mi"
    log = sheet.known["mileage"]
    unit = rows["vehicle"].map(log.drop_duplicates("vehicle").set_index("vehicle")["unit"])
    return "km" if (unit == "km").mean() > 0.5 else "mi"


def _notes(sheet: Sheet) -> str:
    notes = sheet.text("note")
    said = next((note for note in notes.unique() if _KILOMETRES.search(note)), "")
    return f"a note says '{said[:40]}'" if said else ""


def _first_log(sheet: Sheet, rows: pd.DataFrame) -> str:
    """Why the first log of an engine may be in kilometres: its parts are measured in millimetres."""
    if sheet.table != "mileage":
        return ""
    logged = set(sheet.known["mileage"]["vehicle"])
    new = [vehicle for vehicle in rows["vehicle"].unique() if vehicle not in logged]
    points = sheet.known["wear_points"]
    own = points["unit"][points["vehicle"].isin(new) & points["unit"].isin(units.LENGTH_MM)]
    metric = own.isin(["mm", "cm", "m", "µm"]).mean() if len(own) else 0.0
    return "the engine is measured in millimetres, and its log names no unit yet" if metric > 0.5 else ""


def _question(sheet: Sheet, column: str, vehicle: str, rows: pd.DataFrame) -> Question:
    was = _read_in(sheet, rows)
    why = _why(sheet, rows, was) if column == "odometer" else ""
    why = why or _notes(sheet) or _first_log(sheet, rows)
    shown = sheet.text(column)[rows.index].drop_duplicates().head(_SHOWN)
    answers = {
        unit: Answer(
            f"they are in {_NAMES[unit]}",
            Settled(stated={DISTANCE: pd.Series(unit, rows.index, dtype="str")}),
            tuple(f"{cell} {unit}" for cell in shown),
        )
        for unit in (was, _OTHER[was])
    }
    words = f"Column {column} names no unit for vehicle {vehicle}, and {why}: are these miles or kilometres?"
    pairs = tuple(zip(shown.index.tolist(), shown.tolist(), strict=True))
    return Question(
        "distance", column, words, rows.index, pairs, answers, of_kind=True, key=vehicle, needed=bool(why)
    )
