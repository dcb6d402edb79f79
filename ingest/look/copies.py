"""Rows that say nearly what another reading says: a correction of it, or a second reading beside it?

A sheet that comes again with small corrections must not end as two histories, whether the first copy is
stored or came in the same call. Of several readings of one place on one sheet, none is taken for being first.
"""

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.figures import limit
from ingest.look.history import goes_back, history, is_spike, point_days, points_and_days
from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.names.points import by_point
from ingest.notation.stated import ALSO_READ

SAME = ["point", "date", "value"]
_SHOWN = 5
_MEANS = {
    "correction": "they take the place of the earlier readings, which stay on record as corrected",
    "second": "both were measured; they are stored beside each other",
}
ONE_PLACE = ["point", "date", "gauge", "observer", "found_or_left", "part_no", "opening"]
"""What readings share that are several of one place, by one hand."""
_OTHER = [
    *("row_id", "label", "point", "date", "value", "observer", "found_or_left", "value_text", "unit"),
    *("client_id", "odometer_read"),
]


def judge_copies(sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask about rows that differ a little from one of the same or next day by the same observer."""
    rows = sheet.rows
    if sheet.table != "readings" or rows is None or rows.empty:
        return
    pairs = near_others(sheet)
    for name, part in pairs.groupby("source_file", sort=False):
        yield correction_question(part, rows, str(name))


def near_others(sheet: Sheet) -> pd.DataFrame:
    """New rows beside the earlier reading that each is most like.

    Returns
    -------
    at, and of the other reading: row_id (-1 if it came in the same call), label (-1 if it is stored), and its
    cells, with ``_other`` where the row has one of that name. Of the same day any value counts, of the day
    before or after one within what gauges scatter; observers are the same, or one of them is not known. No
    reading is taken twice, nor one that another row of the sheet repeats. Two that each have a number of
    their own were typed one beside the other: neither corrects the other.
    """
    rows = sheet.rows
    assert rows is not None
    others = earlier_readings(sheet, rows)
    own = rows[["point", "date", "value", "observer", "found_or_left", "client_id"]].assign(at=rows.index)
    # Only days beside each other are paired: a point may have thousands of readings.
    own = own.assign(day=own["date"].to_numpy(dtype="datetime64[D]"))
    others = others[_beside(own, others)]
    if others.empty:
        return others.assign(at=others["row_id"])
    near_days = [
        others.assign(day=others["date"].to_numpy(dtype="datetime64[D]") + off) for off in (-1, 0, 1)
    ]
    pairs = own.merge(pd.concat(near_days), on=["point", "day"], suffixes=("", "_other"))
    days = (pairs["date"] - pairs["date_other"]).dt.days.abs()
    apart = (pairs["value"] - pairs["value_other"]).abs()
    alike = (pairs["observer"] == pairs["observer_other"]) | (pairs["observer"] == "")
    alike |= pairs["observer_other"] == ""
    alike &= (pairs[["client_id", "client_id_other"]] == "").any(axis=1)
    stages = (pairs["found_or_left"] == pairs["found_or_left_other"]) | (pairs["found_or_left"] == "")
    near = alike & stages & ((days == 0) | ((days == 1) & (apart <= scatter(pairs["point"], sheet))))
    pairs = pairs[near].assign(days=days, apart=apart).sort_values(["days", "apart"], kind="stable")
    return pairs.drop_duplicates("at").drop_duplicates(["row_id", "label"]).sort_values("at")


def _beside(own: pd.DataFrame, others: pd.DataFrame) -> NDArray[np.bool_]:
    """Which other readings lie within a day of one of the rows at their point."""
    names = pd.Index(own["point"].unique())
    keys, other_keys = (point_days(*points_and_days(names, frame)) for frame in (own, others))
    return np.isin(other_keys, (keys[:, None] + [-1, 0, 1]).ravel())


def earlier_readings(sheet: Sheet, rows: pd.DataFrame) -> pd.DataFrame:
    """Stored readings, and those of sheets that came before this one in the same call."""
    wanted = rows["point"].unique()
    stored = sheet.known["readings"]
    stored = stored[stored["point"].isin(wanted) & (stored["row_id"] >= 0)].assign(label=-1)
    names = [*_OTHER, "source_file", "source_sheet"]
    parts = [stored[names]]
    if sheet.beside is not None and len(sheet.beside) > len(rows):
        before = sheet.beside[sheet.beside.index < rows.index.min()]
        before = before[before["point"].isin(wanted)]
        parts.append(before.assign(row_id=-1, label=before.index)[names])
    others = pd.concat(parts, ignore_index=True)
    if sheet.repeated is not None and len(sheet.repeated):
        said = pd.MultiIndex.from_frame(sheet.repeated[SAME])
        others = others[~pd.MultiIndex.from_frame(others[SAME]).isin(said)]
    return others


def scatter(points: pd.Series, sheet: Sheet) -> pd.Series:
    """What two readings of one size may differ by. [base unit]"""
    about = by_point(sheet.known["wear_points"])
    span = points.map((about["condemning_limit"] - about["new_value"]).abs()).astype("float64")
    sd = points.map(about["gauge_sd"]).astype("float64")
    allowed = limit("reading", "disagree_after") * np.sqrt(2) * sd
    return pd.Series(
        np.fmax(allowed, limit("reading", "gauge_share") * span), index=points.index, dtype="float64"
    ).fillna(0.0)


def correction_question(pairs: pd.DataFrame, rows: pd.DataFrame, file: str, *, key: str = "") -> Question:
    """The question whether rows correct the readings beside them, which came from a file."""
    at = pd.Index(pairs["at"], dtype="int64")
    first = pairs.iloc[0]
    written = rows.loc[at, "value_text"] + " " + rows.loc[at, "unit"]
    earlier = pairs["value_text"] + " " + pairs["unit"]
    many = f"{len(at)} rows say nearly" if len(at) > 1 else "A row says nearly"
    text = (
        f"{many} what readings from {file} say, such as {first['point']}: {written.iloc[0]} of "
        f"{first['date']:%Y-%m-%d} and {earlier.iloc[0]} of {first['date_other']:%Y-%m-%d}. Does it "
        "correct that one, "
        "or is it a second reading beside it?"
    )
    cells = tuple(zip(map(int, at[:_SHOWN]), map(str, written.iloc[:_SHOWN]), strict=True))
    stored, came = pairs[pairs["label"] < 0], pairs[pairs["label"] >= 0]
    replaced = pd.Series(stored["row_id"].to_numpy(dtype=np.int64), pd.Index(stored["at"], dtype="int64"))
    gone = pd.Index(came["label"], dtype="int64")
    answers = {
        "correction": Answer(
            _MEANS["correction"],
            Settled(replaced=replaced, left_out=gone, stand=at),
            tuple(f"in place of {said}" for said in earlier.iloc[:_SHOWN]),
        ),
        "second": Answer(
            _MEANS["second"], Settled(stand=at), tuple(f"beside {said}" for said in earlier.iloc[:_SHOWN])
        ),
    }
    return Question("correction", "value", text, at, cells, answers, key=key)


def judge_several(sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask which holds of several readings of one place and day, by one hand and gauge, on one sheet.

    Two rows within what gauges scatter are two readings, and nothing is asked unless a note speaks of a
    correction. Columns side by side (minimum and maximum, reading 1, 2, 3) are asked about whatever they say,
    once for the kind of sheet.
    """
    if sheet.table != "readings" or sheet.rows is None or not sheet.rows.duplicated(["point", "date"]).any():
        return
    rows = sheet.rows[sheet.rows.duplicated(ONE_PLACE, keep=False)]
    work = pd.MultiIndex.from_frame(sheet.known["work"][["point", "date"]])
    rows = rows[~pd.MultiIndex.from_frame(rows[["point", "date"]]).isin(work)]  # before and after it
    if rows.empty:
        return
    beside = rows.duplicated([*ONE_PLACE, "source_row"], keep=False)
    below = rows[~beside & ~_two_readings(rows, sheet)]
    below = below[~_first_alone_fits(below, sheet)] if len(below) else below
    for part, of_kind in ((rows[beside], True), (below, False)):
        if len(part):
            yield _which_holds(part, sheet, of_kind=of_kind)


def _two_readings(rows: pd.DataFrame, sheet: Sheet) -> pd.Series:
    """Whether readings of one place are within what gauges scatter, and no note corrects one of them."""
    groups = rows.groupby(ONE_PLACE, sort=False)
    spread = groups["value"].transform("max") - groups["value"].transform("min")
    noted = rows["note"].map({note: corrects(note) for note in rows["note"].unique()})
    noted = noted.groupby([rows[name] for name in ONE_PLACE]).transform("any").astype(bool)
    return (spread <= scatter(rows["point"], sheet)) & ~noted


def _first_alone_fits(rows: pd.DataFrame, sheet: Sheet) -> pd.Series:
    """Whether of readings of one place the first fits what was read before and after, and no other does.

    It is then stored, and the others wait because they contradict it.
    """
    read = history(rows, sheet.known, sheet.beside)
    fits = read.loc[read["new"] & ~is_spike(read) & ~goes_back(read), "at"]
    fit = pd.Series(rows.index.isin(fits), rows.index)
    by_place = fit.groupby([rows[name] for name in ONE_PLACE], sort=False)
    return (by_place.transform("sum") == 1) & by_place.transform("first").astype(bool)


def corrects(note: str) -> bool:
    """Whether a note says that its reading corrects another."""
    return bool(_corrects().search(note))


@cache
def _corrects() -> re.Pattern[str]:
    words = tomllib.loads((files("ingest.look") / "correction_words.toml").read_text(encoding="utf-8"))
    begins = "|".join(re.escape(word) for group in words.values() for word in group)
    return re.compile(rf"\b(?:{begins})", re.IGNORECASE)


def _which_holds(rows: pd.DataFrame, sheet: Sheet, *, of_kind: bool) -> Question:
    """The question which of several readings of each place holds."""
    groups = rows.groupby(ONE_PLACE, sort=False)
    first = rows[groups.ngroup() == 0]
    said = ", ".join((first["value_text"] + " " + first["unit"]).str.strip())
    many = f"{groups.ngroups} places and days have" if groups.ngroups > 1 else "One place and day has"
    text = (
        f"{many} several readings on this sheet, such as {first['point'].iloc[0]} of "
        f"{first['date'].iloc[0]:%Y-%m-%d}: {said}. Which of them holds?"
    )
    toward = toward_limit(rows, sheet)
    by_place = [rows[name] for name in ONE_PLACE]
    worn = (rows["value"] * toward).groupby(by_place, sort=False)
    keeps = {} if toward.isna().any() else {"worst": worn.transform("idxmax")}
    place = rows.index.to_series().groupby(by_place, sort=False)
    keeps |= {"last": place.transform("max"), "first": place.transform("min")}
    again = _repeats(rows, sheet.repeated)
    at = rows.index.union(again.index)
    answers = {word: _kept(rows, label, again, _KEEPS[word]) for word, label in keeps.items()}
    beside = tuple(f"beside the others: {said}" for said in rows["value_text"].iloc[:_SHOWN])
    answers["all"] = Answer(_KEEPS["all"], Settled(stand=at), beside)
    cells = tuple(zip(map(int, rows.index[:_SHOWN]), map(str, rows["value_text"].iloc[:_SHOWN]), strict=True))
    return Question("several", "value", text, at, cells, answers, of_kind=of_kind)


_KEEPS = {
    "worst": "the one nearest to the limit is stored, and its note names the others",
    "last": "the last of each is stored, and its note names the others",
    "first": "the first of each is stored, and its note names the others",
    "all": "all were measured; they are stored beside each other",
}


def _kept(rows: pd.DataFrame, label: pd.Series, again: pd.DataFrame, means: str) -> Answer:
    """Of each place the reading of that label is kept; the others are left out, and told in its note."""
    other = label != rows.index
    said = (rows["value_text"] + " " + rows["unit"]).str.strip()
    told = "also read: " + said[other].groupby(label[other], sort=False).agg(", ".join)
    left_out = rows.index[other].union(_repeats(rows[other], again).index)
    reads = tuple("left out" if gone else "stored" for gone in other.iloc[:_SHOWN])
    kept = rows.index[~other]
    return Answer(
        means, Settled(stated={ALSO_READ: told.astype("str")}, left_out=left_out, stand=kept), reads
    )


def _repeats(rows: pd.DataFrame, again: pd.DataFrame | None) -> pd.DataFrame:
    """Rows that say once more what one of these does: they wait, stay or go with it."""
    if again is None or again.empty:
        return rows.iloc[:0]
    names = [*ONE_PLACE, "value"]
    return again[pd.MultiIndex.from_frame(again[names]).isin(pd.MultiIndex.from_frame(rows[names]))]


def toward_limit(rows: pd.DataFrame, sheet: Sheet) -> pd.Series:
    """1 where a part wears to greater values, -1 where to smaller ones, NaN where that is not on record."""
    about = by_point(sheet.known["wear_points"])
    way = rows["point"].map(about["condemning_limit"] - about["new_value"]).astype("float64")
    return pd.Series(np.sign(way.mask(way == 0)), rows.index)
