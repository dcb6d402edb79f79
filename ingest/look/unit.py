"""In which unit a column is that names none: that of its wear points, unless the values speak against it.

The rule of the tables is that such values are in the unit of their wear point. It is asked about where a good
part of the column does not fit new, limit and earlier readings as it stands, and would in another unit; or
where figures of a thousandth of an inch stand at points that are measured in millimetres.
Whether ``0.1 mm`` over a column is its unit or says how finely was read is told by figures and wear points.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from ingest import units
from ingest.figures import limit
from ingest.look.fitting import fits, places
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import MEASURED, Sheet
from ingest.names.points import by_point
from ingest.notation.stated import DECIMAL, UNIT

OWN = "own"
"""The answer that each value is in the unit of its wear point, where these differ."""
_CANDIDATES = ("in", "mm", "thou", "1/64 in", "1/32 in", "1/16 in", "µm", "cm", *units.PARTS_OF_MM)
_BARE = r"[-+]?\s*(?:[0-9]+[-\s]+)?[0-9.,]+(?:\s*/\s*[0-9]+)?"
_UNCLEAR = r"[0-9]{1,3},[0-9]{3}"
_COUNTED = 0.25
_NAMES = {
    "in": "inches",
    "mm": "millimetres",
    "thou": "thousandths of an inch",
    "1/64 in": "sixty-fourths of an inch",
    "1/10 mm": "tenths of a millimetre",
    "1/100 mm": "hundredths of a millimetre",
    "1/32 in": "thirty-seconds of an inch",
    "1/16 in": "sixteenths of an inch",
    "1/8 in": "eighths of an inch",
    "µm": "micrometres",
    "cm": "centimetres",
}
_FINE = r"^[-+]?[0-9]*\.[0-9]{3}$"
_FEWEST_BAD = 2  # values that do not fit; one may be a slip
_SHOWN = 5


def judge_unit(sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask for the unit of values that name none and do not fit as they are read."""
    if sheet.table not in MEASURED or sheet.rows is None or sheet.rows.empty:
        return
    for column in MEASURED[sheet.table]:
        rows = _bare(sheet, column)
        if len(rows):
            yield from _judge(sheet, column, rows)
            return


def _bare(sheet: Sheet, column: str) -> pd.DataFrame:
    """Rows whose value stands without a unit, at a point that is measured in a length: own, figure, text."""
    assert sheet.rows is not None
    rows = sheet.rows[["point", "date", column]].dropna(subset=[column])
    said = sheet.text("unit").where(sheet.text("unit") != "", sheet.text(f"unit:{column}"))
    text = sheet.text(column)
    unclear = text.str.fullmatch(_UNCLEAR) & (sheet.text(DECIMAL) == "")
    bare = (said == "") & (sheet.text(UNIT) == "") & text.str.fullmatch(_BARE) & ~unclear
    rows = rows[bare.reindex(rows.index).to_numpy(dtype=bool)]
    own = rows["point"].map(by_point(sheet.known["wear_points"])["unit"]).astype(object).fillna("")
    rows = rows.assign(own=own.astype("str"), text=text.reindex(rows.index))
    rows = rows[rows["own"].isin(units.LENGTH_MM)]
    per = rows["own"].map({unit: units.per_unit(unit) for unit in rows["own"].unique()})
    return rows.assign(figure=(rows[column] / per.astype("float64")).round(9))


def _judge(sheet: Sheet, column: str, rows: pd.DataFrame) -> Iterator[Question | Settled]:
    place = places(rows, sheet.known)
    own = fits(rows[column], place)
    judged = own.notna()
    bad = judged & (own == 0)
    others = [unit for unit in _CANDIDATES if (rows["own"] != unit).any()]
    fit = {}
    for unit in others if bad.sum() >= _FEWEST_BAD else ():
        counted = unit.startswith("1/") or unit in ("thou", "µm")
        if not (counted and (rows["figure"] % _COUNTED).any()):
            fit[unit] = fits(rows["figure"] * units.per_unit(unit), place)
    better = [unit for unit, ok in fit.items() if _fits_better(ok, own, judged & (rows["own"] != unit))]
    metric = rows[rows["own"] == "mm"]  # an engine in inches beside them says nothing of these
    fine = metric["text"].str.fullmatch(_FINE).mean() > 0.5
    if (
        not better
        and fine
        and fits(metric["figure"] * units.per_unit("in"), place.loc[metric.index]).min() > 0
    ):
        better = ["in"]
    question = _question(column, rows, tuple(others), bad)
    if better:
        yield _with_answers(question, [next(iter(question.answers)), *map(_word, better)], needed=True)
    else:
        yield _with_answers(question, list(question.answers), needed=False)


def _fits_better(ok: pd.Series, own: pd.Series, at: pd.Series) -> bool:
    """Whether the rows of `at`, to which the unit is another one, fit better in it than as they are read."""
    share, bad = limit("look", "unit_share"), (at & (own == 0)).sum()
    enough = bool(bad >= max(_FEWEST_BAD, share * at.sum()))
    return enough and bool(ok[at].mean() > max(own[at].mean() + share, 1 - share))


def _with_answers(question: Question, words: list[str], *, needed: bool) -> Question:
    return replace(question, answers={word: question.answers[word] for word in words}, needed=needed)


def _question(column: str, rows: pd.DataFrame, others: tuple[str, ...], bad: pd.Series) -> Question:
    own = rows["own"].unique()
    first = rows[bad] if bad.any() else rows
    shown = first.drop_duplicates("text").head(_SHOWN)
    answers = {}
    for unit in (OWN, *others):
        stated = rows["own"] if unit == OWN else pd.Series(unit, rows.index, dtype="str")
        word = _word(str(own[0])) if unit == OWN and len(own) == 1 else _word(unit)
        means = f"the values are in {_NAMES.get(unit, unit)}" if unit != OWN else _own_words(own)
        reads = tuple(
            f"{figure:.9g} {said}" for figure, said in zip(shown["figure"], stated[shown.index], strict=True)
        )
        answers[word] = Answer(means, Settled(stated={UNIT: stated.astype("str")}), reads)
    text = (
        f"The sheet names no unit for its column {column}. Read in {_listed(own)}, the values do not fit "
        "new, limit and earlier readings of the wear points: in which unit are they?"
    )
    pairs = tuple(zip(shown.index.tolist(), shown["text"].tolist(), strict=True))
    return Question("unit", column, text, rows.index, pairs, answers, of_kind=True)


def _own_words(own: np.ndarray) -> str:
    return (
        f"the values are in {_listed(own)}"
        if len(own) == 1
        else "each value is in the unit of its wear point"
    )


def _listed(own: np.ndarray) -> str:
    return _NAMES.get(str(own[0]), str(own[0])) if len(own) == 1 else "the units of the wear points"


def _word(unit: str) -> str:
    """A unit as one word of an answer."""
    return unit.replace(" ", "")


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
            yield from _doubt_parts(sheet, column, str(word), part)


def _doubt_parts(sheet: Sheet, column: str, unit: str, rows: pd.DataFrame) -> Iterator[Question]:
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
