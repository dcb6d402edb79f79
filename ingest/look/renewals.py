"""Renewals and cuts that a note tells of, or that nothing tells but values that went back toward new.

Work on record near the day explains them; then nothing is asked. Nor is it for steps that the gauge explains.
"""

from collections.abc import Iterator

import pandas as pd

from ingest import units
from ingest.look.exchange import exchange_rows, fitting_places
from ingest.look.history import goes_back
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.look.told_work import told_work
from ingest.names.points import by_point
from ingest.neutral import quoted
from ingest.notation.stated import GAUGE

_SHOWN = 5
_MEANS = {
    "renewed": "a new or rebuilt part was fitted before this reading; the renewal is put on record",
    "cut": "metal was taken off in the shop before this reading; the cut is put on record",
    "gauge": "the part is the same; another gauge or hand reads otherwise, and the readings are marked so",
    "wrong": "the value is wrong; it is not taken",
    "before": "this one is right; the reading before it was wrong",
    "no": "no work was done; the note means something else",
}


def ask_renewals(read: pd.DataFrame, sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask what happened where a note tells of work, or a value went back toward new.

    Parameters
    ----------
    read : as ``ingest.look.history.history`` returns it for the sheet's readings.
    """
    rows = sheet.rows
    assert rows is not None
    told = {note: told_work(note) for note in rows["note"].unique()}
    note = read["at"].map(rows["note"]).astype(object).fillna("").astype("str")
    read = read.assign(note=note, told=note.map(told).astype(object).fillna("").astype("str"))
    read["back"] = goes_back(read)
    read["told"] = read["told"].where(_told_of(read, rows), "")
    asked = read[read["new"] & ~read["worked"] & ((read["told"] != "") | read["back"])]
    read["noted"] = (read["told"] != "") & ~read["worked"]
    after_note = read["noted"].to_numpy()[asked["before"].clip(lower=0)] & (asked["before"] >= 0)
    asked = asked[~after_note | (asked["told"] != "")]  # the note beside the reading before tells it
    groups = ["vehicle", "component", "quantity", "date", "note"]
    for _, part in asked.groupby(groups, sort=False):
        yield _question(part, read, sheet)


def _told_of(read: pd.DataFrame, rows: pd.DataFrame) -> pd.Series:
    """Whether a note speaks of a reading: of several that stand in one row of a sheet it speaks of one.

    Of those it is the one that went back toward new, else the newest.
    """
    place = ["source_file", "source_sheet", "source_row"]
    own = read[read["new"] & (read["told"] != "")]
    own = own.assign(**{name: rows.loc[own["at"], name].to_numpy() for name in place})
    by = own.groupby(["point", *place], sort=False)
    first_choice = own["back"] | ~by["back"].transform("any")
    newest = own["date"] == by["date"].transform("max")
    speaks = first_choice & (own["back"] | newest)
    return speaks.reindex(read.index).fillna(True).astype(bool)


def _question(part: pd.DataFrame, read: pd.DataFrame, sheet: Sheet) -> Question:
    """One question about the readings of one kind, engine and day."""
    rows = sheet.rows
    assert rows is not None
    first = part.iloc[0]
    at = pd.Index(part["at"], dtype="int64")
    part_read = f"{first['component']} {first['quantity']}".strip()
    what = f"{part_read[:1].upper()}{part_read[1:]} of {first['vehicle']}, {first['date']:%Y-%m-%d}"
    others = f", {len(part)} readings" if len(part) > 1 else ""
    note = f"The note says {quoted(first['note'])}. " if first["told"] else ""
    if first["back"]:
        earlier = read.iloc[int(first["before"])]
        per = _per_unit(rows, first["at"])
        text = (
            f"{note}{what}{others}: {_said(rows, first['at'])} at {first['point']} is nearer to new than "
            f"{earlier['value'] / per:.5g} {rows.loc[first['at'], 'unit']} on {earlier['date']:%Y-%m-%d}, by "
            "more than a gauge explains, and no work is on record. What happened?"
        )
        words = ["renewed", "cut", "gauge", "wrong", "before"]
    else:
        text = f"{note}{what}{others}: no work is on record for that day. Was the part renewed or cut?"
        words = ["renewed", "cut", "no"]
    if first["told"] in words:  # what the note says stands first
        words = [first["told"], *(word for word in words if word != first["told"])]
    swaps = _swaps(part, sheet) if first["back"] else {}
    shown = tuple((int(label), _said(rows, label)) for label in at[:_SHOWN])
    answers = {
        word: Answer(
            _MEANS[word],
            _settled(word, at, rows, note or "value"),
            (_reads(word, first["date"]),) * len(shown),
        )
        for word in words
    }
    answers |= {word: _swap_answer(swap, at, rows, len(shown)) for word, swap in swaps.items()}
    return Question("renewal", "note" if first["told"] else "value", text, at, shown, answers)


Swap = tuple[str, str, str, dict[str, pd.DataFrame]]
"""Kind of part, its two places, and the rows that tell the exchange."""


def _swaps(part: pd.DataFrame, sheet: Sheet) -> dict[str, Swap]:
    """Exchanges that explain readings that went back toward new, by the word that answers so."""
    known = sheet.known
    if "fittings" not in known or "parts" not in known:
        return {}
    points = by_point(known["wear_points"])
    kind, here, others = fitting_places(part, points, known["readings"])
    vehicle, day = str(part["vehicle"].iloc[0]), part["date"].iloc[0]
    return {
        f"swapped-{other.replace(' ', '-')}": (
            kind, here, other, exchange_rows(known, kind, ((vehicle, here), (vehicle, other)), day),
        )
        for other in others
    }  # fmt: skip


def _swap_answer(swap: Swap, at: pd.Index, rows: pd.DataFrame, shown: int) -> Answer:
    """What it means that parts were exchanged: the fittings are put on record."""
    kind, here, other, told = swap
    origin = rows.loc[at[:1], ["source_file", "source_sheet", "source_row"]].iloc[0]
    more = {name: frame.assign(**origin) for name, frame in told.items()}
    means = f"the {kind}s of {here} and {other} were exchanged by then; the exchange is put on record"
    reads = (f"read of the {kind} that was at {other}",) * shown
    return Answer(means, Settled(stand=at, more=more), reads)


def _settled(word: str, at: pd.Index, rows: pd.DataFrame, why: str) -> Settled:
    if word == "wrong":
        return Settled(left_out=at)
    if word == "gauge":
        named = rows.loc[at]
        name = "another gauge, " + named["date"].dt.strftime("%Y-%m-%d")
        return Settled(stated={GAUGE: name.astype("str")}, stand=at)
    if word in ("no", "before"):
        return Settled()
    done = rows.loc[at, ["point", "date", "source_file", "source_sheet", "source_row"]]
    done = done.drop_duplicates("point")
    said = "told by the value, which is nearer to new" if why == "value" else why.strip()
    work = done.assign(
        date=done["date"].dt.strftime("%Y-%m-%d"), action=word, note=f"{said}; on this day or before it"
    )
    return Settled(more={"work": work.reset_index(drop=True)})


def _reads(word: str, day: pd.Timestamp) -> str:
    return {
        "renewed": f"read of a part renewed by {day:%Y-%m-%d}",
        "cut": f"read after a cut by {day:%Y-%m-%d}",
        "gauge": "read with another gauge",
        "wrong": "not taken",
        "before": "read as it stands",
        "no": "read, and no work on record",
    }[word]


def _said(rows: pd.DataFrame, label: int) -> str:
    """The value as it was written, with its unit."""
    text, unit = str(rows.loc[label, "value_text"]), str(rows.loc[label, "unit"])
    return text if text.endswith(unit) else f"{text} {unit}"


def _per_unit(rows: pd.DataFrame, label: int) -> float:
    return units.per_unit(str(rows.loc[label, "unit"]))
