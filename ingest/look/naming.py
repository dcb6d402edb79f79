"""Which part and which quantity a row means that says only half of it, such as ``piston`` 0.02.

A row that names neither its wear point nor the quantity may fit a single wear point all the same, because the
others of the part are not on record. That is no proof: it is asked, once for each naming of a sheet. A sheet
that is called after an engine, or a table under its name, is about that engine.
"""

from collections.abc import Iterator

import pandas as pd

from ingest.layouts.titles import named_in
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import MEASURED, Sheet
from ingest.names.aliases import Aliases
from ingest.names.points import narrowed, spelled
from ingest.notation.stated import COMPONENT, QUANTITY, TITLE, VEHICLE
from ingest.schema import PARTS, TABLES

_MOST = 12  # possible meanings that a question lists
_SHOWN = 5


def judge_naming(sheet: Sheet) -> Iterator[Question]:
    """Ask what rows mean that leave the quantity open, or part of the part's name."""
    if sheet.table not in MEASURED or sheet.known["wear_points"].empty:
        return
    text = {name: sheet.text(name) for name in PARTS}
    text["vehicle"] = text["vehicle"].mask(text["vehicle"] == "", sheet.text(VEHICLE))
    open_ = (sheet.text("point") == "") & (text["quantity"] == "") & (sheet.text(QUANTITY) == "")
    open_ &= text["component"] != ""
    if not open_.any():
        return
    points = sheet.known["wear_points"].drop_duplicates("point", keep="last")
    aliases = Aliases(sheet.known["position_aliases"])
    rows = pd.DataFrame(text)[open_]
    told = [bool(aliases.point(*pair)) for pair in zip(rows["position"], rows["vehicle"], strict=True)]
    rows = rows[~pd.Series(told, rows.index, dtype=bool)]
    for component, part in rows.groupby("component", sort=False):
        namings = {tuple(naming) for naming in part.itertuples(index=False, name=None)}
        left = pd.concat([narrowed(naming, points, aliases)[0] for naming in sorted(namings)])
        meant = left[["component", "quantity"]].drop_duplicates()
        whole = (meant["component"].map(spelled) == spelled(str(component))).all()
        if not meant.empty and not (whole and len(meant) == 1):
            yield _question(str(component), part, meant.head(_MOST), sheet)


def judge_sheet_name(sheet: Sheet) -> Iterator[Settled]:
    """Settle the vehicle of rows that name wear points by their parts alone, by name of the sheet or title.

    Where the two name different ones, nothing is settled.
    """
    if not {*PARTS} & {*TABLES[sheet.table].parts}:
        return
    vehicles = list(map(str, sheet.known["wear_points"]["vehicle"].unique()))
    wanted = " ".join(sheet.sheet.split()).casefold()
    by_name = {name for name in vehicles if name.casefold() == wanted}
    title = sheet.text(TITLE)
    by_title = {text: {named_in(text, vehicles)} - {""} for text in title.unique()}
    parts = pd.concat([sheet.text(name) for name in ("component", "position", "quantity")], axis=1)
    at = sheet.raw.index[
        (sheet.text("vehicle") == "") & (sheet.text("point") == "") & (parts != "").any(axis=1)
    ]
    for text, named in by_title.items():
        said, here = by_name | named, at[(title[at] == text).to_numpy(dtype=bool)]
        if len(said) == 1 and len(here):
            yield Settled(stated={VEHICLE: pd.Series(said.pop(), here, dtype="str")})


def _question(component: str, rows: pd.DataFrame, meant: pd.DataFrame, sheet: Sheet) -> Question:
    column = MEASURED[sheet.table][0]
    shown = sheet.text(column)[rows.index].iloc[:_SHOWN]
    answers = {
        _word(f"{part} {quantity}"): Answer(
            f"they are readings of {part}, {quantity}",
            Settled(
                stated={
                    COMPONENT: pd.Series(part, rows.index, dtype="str"),
                    QUANTITY: pd.Series(quantity, rows.index, dtype="str"),
                }
            ),
            tuple(f"{part}, {quantity}: {cell}" for cell in shown),
        )
        for part, quantity in meant.itertuples(index=False, name=None)
    }
    answers["none"] = Answer(
        "they are none of these: leave them out", Settled(left_out=rows.index), ("left out",) * len(shown)
    )
    words = f"Rows say '{component}' and not what was measured of which part: what is meant?"
    pairs = tuple(zip(shown.index.tolist(), shown.tolist(), strict=True))
    return Question(
        "naming", "component", words, rows.index, pairs, answers, of_kind=True, key=spelled(component)
    )


def _word(text: str) -> str:
    """A part and a quantity as one word of an answer."""
    return "-".join(spelled(text).split())
