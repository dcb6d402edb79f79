"""Whether a comma parts decimals or thousands: from all numbers of the sheet, not from one cell.

``1,5`` and ``0,875`` prove the decimal comma, ``1.5`` and ``1,250.5`` the point; ``1,250`` proves nothing.
What one column proves holds for the whole sheet unless another column proves otherwise; ``2.602`` among
``2,61`` is asked about. A number cell of a workbook is a number: only texts have a mark.
"""

from collections.abc import Iterator

import numpy as np
import pandas as pd

from ingest.look.fitting import fits, places
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import MEASURED, Sheet
from ingest.notation.stated import DECIMAL, is_text_cell
from ingest.notation.values import BEYOND, parse_values
from ingest.schema import TABLES

COMMA, POINT, THOUSANDS, UNCLEAR_COMMA, UNCLEAR_POINT = "comma", "point", "thousands", "1,250", "1.250"
_NUMBER = r"(?<![0-9.,])([0-9.,]*[.,][0-9.,]*)"
_KINDS = (  # the first that fits a number says what it proves
    (r"[0-9]{1,3}(?:,[0-9]{3}){1,6}\.[0-9]{0,20}", POINT),
    (r"[0-9]{1,3}(?:\.[0-9]{3}){1,6},[0-9]{0,20}", COMMA),
    (r"[1-9][0-9]{0,2}(?:,[0-9]{3}){2,6}", POINT),
    (r"[1-9][0-9]{0,2}(?:\.[0-9]{3}){2,6}", COMMA),
    (r"[1-9][0-9]{0,2},[0-9]{3}", UNCLEAR_COMMA),
    (r"[1-9][0-9]{0,2}\.[0-9]{3}", UNCLEAR_POINT),
    (r"[0-9]{0,20},[0-9]{1,20}", COMMA),
    (r"[0-9]{0,20}\.[0-9]{0,20}", POINT),
)
_BOTH = r"[0-9]\.[0-9]{3},[0-9]"
_MOSTLY = 0.5
UNPROVEN = "does not say whether its mark parts decimals or thousands"
_SHOWN = 5


def judge_decimal_mark(sheet: Sheet) -> Iterator[Question | Settled]:
    """State for which columns the comma marks decimals; ask where a column proves both."""
    names = [column.name for column in TABLES[sheet.table].columns if column.kind in ("number", "whole")]
    open_ = sheet.text(DECIMAL) == ""
    kinds = {
        name: _kinds(sheet.text(name)[open_ & is_text_cell(sheet.raw, name)])
        for name in names
        if name in sheet.raw
    }
    kinds = {name: _proven_by_size(sheet, name, kind) for name, kind in kinds.items() if len(kind)}
    proven = {name: {COMMA, POINT} & set(kind.unique()) for name, kind in kinds.items()}
    everywhere = set().union(*proven.values())
    if not everywhere:
        yield from _unproven(sheet, kinds)
    if COMMA not in everywhere:
        return
    stated, doubted = pd.Series("", sheet.raw.index, dtype="str"), dict[str, pd.Index]()
    for name, kind in kinds.items():
        proof = proven[name] or everywhere
        if proof == {COMMA}:
            doubted[name] = _odd_points(sheet, name, kind) if proven[name] else kind.index[:0]
            stated = _naming(stated, kind.index.difference(doubted[name]), name)
        elif len(proof) == 2:
            stated = _naming(stated, kind.index[kind == COMMA], name)
            doubted[name] = kind.index[kind == UNCLEAR_COMMA]
    yield Settled(stated={DECIMAL: stated[stated != ""]})
    for name, at in doubted.items():
        if len(at):
            yield _question(sheet, name, at, "writes decimals with a comma and with a point", stated)


def _odd_points(sheet: Sheet, name: str, kind: pd.Series) -> pd.Index:
    """Cells such as ``2.602`` among decimal commas: thousands, or a decimal after all.

    They are thousands where the column has thousands with a decimal behind them (``1.250,5``), and where they
    lie among the others so.
    """
    at = kind.index[kind == UNCLEAR_POINT]
    if name not in MEASURED.get(sheet.table, ()) or not len(at):
        return kind.index[:0]
    text = sheet.text(name)[kind.index]
    sure = text[kind == COMMA]
    if sure.str.contains(_BOTH).any():
        return kind.index[:0]
    others, read = (parse_values(part, decimal=",")["value"] for part in (sure, text[at]))
    return at[~read.between(others.min(), others.max()).to_numpy(dtype=bool)]


def judge_unclear_thousands(sheet: Sheet) -> Iterator[Question | Settled]:
    """Where every number is like ``1,250``: what the wear points leave room for."""
    if sheet.table not in MEASURED or sheet.rows is None or sheet.rows.empty:
        return
    for name in MEASURED[sheet.table]:
        yield from _unclear(sheet, name)


def _unclear(sheet: Sheet, name: str) -> Iterator[Question | Settled]:
    assert sheet.rows is not None
    rows = sheet.rows[["point", "date", name]].dropna(subset=[name])
    rows = rows[(is_text_cell(sheet.raw, name) & (sheet.text(DECIMAL) == "")).reindex(rows.index)]
    kind = _kinds(sheet.text(name).reindex(rows.index)) if len(rows) else pd.Series(dtype="str")
    for unclear, factor in ((UNCLEAR_COMMA, 1e-3), (UNCLEAR_POINT, 1e3)):
        part = rows.loc[kind.index[kind == unclear]]
        if part.empty:
            continue
        if fits(part[name], places(part, sheet.known, history=False)).min() > 0:
            continue
        place = places(part, sheet.known)
        as_read, otherwise = fits(part[name], place), fits(part[name] * factor, place)
        judged = as_read.notna()
        if not judged.any() or as_read[judged].mean() >= max(otherwise[judged].mean(), _MOSTLY):
            continue
        if judged.sum() > 2 and not as_read[judged].any() and otherwise[judged].all() and factor < 1:
            stated = _naming(pd.Series("", part.index, dtype="str"), part.index, name)
            yield Settled(stated={DECIMAL: stated})
        else:
            yield _question(sheet, name, part.index, UNPROVEN)


def _unproven(sheet: Sheet, kinds: dict[str, pd.Series]) -> Iterator[Question]:
    """Columns that no earlier readings can decide: sizes like 1,250, odometers like 12.345."""
    for name, kind in kinds.items():
        unit = TABLES[sheet.table].column(name).unit
        odd = {"base": UNCLEAR_COMMA, "mi": UNCLEAR_POINT}.get(unit, "")
        if (kind == odd).any() and not (unit == "base" and sheet.table in ("readings", "work")):
            yield _question(sheet, name, kind.index[kind == odd], UNPROVEN)


def _kinds(text: pd.Series) -> pd.Series:
    """What each number with a mark proves, by row label; texts without one are left out."""
    code, cells = pd.factorize(text)
    number = pd.Series(cells, dtype="str").str.extract(_NUMBER, expand=False)
    kind = pd.Series("", number.index, dtype="str")
    for pattern, proves in _KINDS:
        kind = kind.mask((kind == "") & number.str.fullmatch(pattern).fillna(False).astype(bool), proves)
    found = pd.Series(kind.to_numpy(dtype=object)[code], text.index, dtype="str")
    return found[found != ""]


def _proven_by_size(sheet: Sheet, name: str, kind: pd.Series) -> pd.Series:
    """The kinds, ``2,925`` a decimal where so many of its unit are beyond anything that is measured."""
    unclear = kind.index[kind == UNCLEAR_COMMA]
    if name not in MEASURED.get(sheet.table, ()) or not len(unclear):
        return kind
    unit = sheet.text("unit").where(sheet.text("unit") != "", sheet.text(f"unit:{name}"))
    read = parse_values(sheet.text(name)[unclear], unit[unclear])
    absurd = unclear[read["problem"].str.contains(BEYOND, regex=False)]
    return kind.mask(kind.index.isin(absurd), COMMA)


def _naming(stated: pd.Series, at: pd.Index, name: str) -> pd.Series:
    """The columns that are stated for each row, and one more for some."""
    here = np.asarray(stated.index.isin(at))
    return stated.mask(here, (stated + " " + name).str.strip())


def _question(sheet: Sheet, name: str, at: pd.Index, why: str, stated: pd.Series | None = None) -> Question:
    """What is asked about some cells of a column; `stated`: the columns that have a decimal comma anyhow."""
    text = sheet.text(name)[at]
    shown = text.drop_duplicates().head(_SHOWN)
    before = (sheet.text(DECIMAL) if stated is None else stated)[at]
    comma = _naming(before, at, name)
    answers = {
        "comma": Answer(
            "the comma marks decimals",
            Settled(stated={DECIMAL: comma}),
            tuple(cell.replace(".", "").replace(",", ".") for cell in shown),
        ),
        "point": Answer(
            "the point marks decimals, a comma thousands",
            Settled(stated={DECIMAL: before.mask(before == "", ".")}),
            tuple(cell.replace(",", "") for cell in shown),
        ),
    }
    reads = " or ".join(answer.reads[0] for answer in answers.values())
    words = f"The column {name} {why}: is {shown.iloc[0]} {reads}?"
    pairs = tuple(zip(shown.index.tolist(), shown.tolist(), strict=True))
    return Question("decimal", name, words, at, pairs, answers)
