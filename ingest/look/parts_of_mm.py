"""Whether ``0.1 mm`` over a column is its unit or says how finely was read: by figures and wear points."""

from collections.abc import Iterator

import pandas as pd

from ingest import units
from ingest.look.fitting import fits, places
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import MEASURED, Sheet
from ingest.notation.stated import UNIT

_SHOWN = 5


def judge_parts_of_mm(sheet: Sheet) -> Iterator[Question]:
    """Ask whether values count parts of a millimetre, unless whole numbers fit as such a count alone.

    Three tenths are written 3; who writes 0.3 or 70.2 below ``0.1 mm`` means millimetres, read to a tenth.
    """
    if sheet.table not in MEASURED or sheet.rows is None or sheet.rows.empty:
        return
    for column in MEASURED[sheet.table]:
        said = sheet.text("unit").where(sheet.text("unit") != "", sheet.text(f"unit:{column}"))
        unit = said.map({word: units.unit_of(word) or "" for word in said.unique()}).astype("str")
        open_ = unit.isin(units.PARTS_OF_MM) & (sheet.text(UNIT) == "")
        rows = sheet.rows[["point", "date", column]].dropna(subset=[column])
        rows = rows[open_.reindex(rows.index).to_numpy(dtype=bool)]
        for word, part in rows.groupby(unit.reindex(rows.index), sort=False):
            yield from _doubt(sheet, column, str(word), part)


def _doubt(sheet: Sheet, column: str, unit: str, rows: pd.DataFrame) -> Iterator[Question]:
    place = places(rows, sheet.known)
    in_mm = (rows[column] / units.per_unit(unit)).round(9)
    as_count, whole = fits(rows[column], place), (in_mm % 1 == 0).all()
    if whole and (as_count.dropna() == 1).all() and (fits(in_mm, place) == 0).any():
        return
    shown = sheet.text(column)[rows.index].drop_duplicates().head(_SHOWN)
    answers = {
        "mm": Answer(
            f"the values are in millimetres; {unit} says how finely was read",
            Settled(stated={UNIT: pd.Series("mm", rows.index, dtype="str")}),
            tuple(f"{cell} mm" for cell in shown),
        ),
        unit.replace(" ", ""): Answer(
            f"the values count parts of a millimetre, each {unit}",
            Settled(stated={UNIT: pd.Series(unit, rows.index, dtype="str")}),
            tuple(f"{value:.9g} mm" for value in rows.loc[shown.index, column]),
        ),
    }
    text = (
        f"The sheet names {unit} for its column {column}. Do the values count such parts, "
        "or are they millimetres that were read so finely?"
    )
    pairs = tuple(zip(shown.index.tolist(), shown.tolist(), strict=True))
    yield Question("unit", column, text, rows.index, pairs, answers, of_kind=True, key=unit)
