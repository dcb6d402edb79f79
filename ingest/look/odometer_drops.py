"""An odometer that shows less than before: was it replaced, did it roll over, is it another counter?"""

from collections.abc import Iterator

import numpy as np
import pandas as pd

from ingest.look.question import Answer, Question, Settled
from ingest.look.sheet import Sheet
from ingest.notation.stated import EVENT, WITHOUT
from ingest.store.mileage import MI_PER_KM, bracket, carry_on, instruments, shown

_SLACK_MI = 0.5
_SMALL = 0.5  # of the last figure: a new instrument begins well below it; a little less is a figure misread
_SHOWN = 5
_MEANS = {
    "replaced": "another instrument was fitted; miles count on over the change",
    "rolled_over": "it passed its last figure and began again at 0; miles count on",
    "wrong": "the figures are wrong; the rows are not taken",
    "log": "the figures are of another counter; the readings take their miles from the log",
}


def judge_odometer_drops(sheet: Sheet) -> Iterator[Question | Settled]:
    """Ask about odometers that drop to a small figure and go on from there."""
    rows = sheet.rows
    if rows is None or rows.empty:
        return
    if sheet.table == "mileage":
        yield from _of_log(rows, sheet)
    elif sheet.table == "readings":
        yield from _of_readings(rows, sheet)


def _of_log(rows: pd.DataFrame, sheet: Sheet) -> Iterator[Question]:
    names = ["vehicle", "date", "odometer_read", "event", "unit"]
    stored = sheet.known["mileage"]
    both = pd.concat([stored[names].assign(at=-1), rows[names].assign(at=rows.index)], ignore_index=True)
    both = both[both["vehicle"].isin(rows["vehicle"].unique()) & both["odometer_read"].notna()]
    both = both.sort_values(["vehicle", "date", "at"], kind="stable", ignore_index=True)
    for vehicle, log in both.groupby("vehicle", sort=False):
        drop = _drop(log)
        if drop is not None:
            before, at = log.iloc[drop - 1], pd.Index(log["at"].iloc[drop:])
            yield _log_question(str(vehicle), before, log.iloc[drop], at, rows)


def _drop(log: pd.DataFrame) -> int | None:
    """Place of the first new entry from which on the odometer goes on from less than before."""
    read = log["odometer_read"].to_numpy(dtype=float)
    falls = np.flatnonzero((np.diff(read) < -_SLACK_MI) & (log["event"].to_numpy()[1:] == "")) + 1
    for place in falls:
        on = read[place:]
        until = np.flatnonzero(log["event"].to_numpy()[place + 1 :] != "")
        on = on[: until[0] + 1] if len(until) else on
        # Below the two entries before: one figure misread too high makes no later entry a new instrument's.
        goes_on = (np.diff(on) >= -_SLACK_MI).all() and on[0] < _SMALL * read[max(place - 2, 0) : place].min()
        # The entry before is the one that is odd, or this one, as the next goes on from before it.
        misread = place > 1 and on[0] >= read[place - 2] - _SLACK_MI
        misread |= len(on) > 1 and on[1] >= read[place - 1] - _SLACK_MI
        if goes_on and not misread and (log["at"].to_numpy()[place:] >= 0).all():
            return int(place)
    return None


def _log_question(
    vehicle: str, before: pd.Series, first: pd.Series, at: pd.Index, rows: pd.DataFrame
) -> Question:
    per = MI_PER_KM if first["unit"] == "km" else 1.0
    last, now, unit = before["odometer_read"] / per, first["odometer_read"] / per, first["unit"]
    text = (
        f"The odometer of {vehicle} showed {last:,.0f} {unit} on {before['date']:%Y-%m-%d} and {now:,.0f} "
        f"{unit} on {first['date']:%Y-%m-%d}, and goes on from there. Was it replaced?"
    )
    changed = pd.Index([int(first["at"])])
    settled = {
        "replaced": Settled(stated={EVENT: pd.Series("replaced", changed, dtype="str")}),
        "rolled_over": Settled(stated={EVENT: pd.Series("rolled_over", changed, dtype="str")}),
        "wrong": Settled(left_out=at),
    }
    if not _can_roll_over(last, now):
        del settled["rolled_over"]
    cells = tuple(
        (int(label), f"{rows.loc[label, 'odometer_read'] / per:,.0f} {unit}") for label in at[:_SHOWN]
    )
    return _posed("odometer", text, at, cells, settled)


def _can_roll_over(last: float, now: float) -> bool:
    """Whether the next power of ten lies close after the last figure."""
    whole = 10.0 ** np.ceil(np.log10(max(last, 1.0) + 0.5))
    return bool(whole - last + now < 0.25 * whole)


def _of_readings(rows: pd.DataFrame, sheet: Sheet) -> Iterator[Question]:
    points = sheet.known["wear_points"].drop_duplicates("point", keep="last").set_index("point")["vehicle"]
    rows = rows[rows["odometer_read"].notna()].assign(vehicle=rows["point"].map(points).astype("str"))
    log = carry_on(sheet.known["mileage"])
    rows = rows[rows["vehicle"].isin(log["vehicle"].unique())]
    if rows.empty:
        return
    instrument = instruments(rows["vehicle"], rows["date"], log)
    around = bracket(rows["vehicle"], rows["date"], log)
    lowest = shown(around["low"], instrument).fillna(-np.inf)
    unit = instrument["unit"].map({"mi": 1.0, "km": MI_PER_KM}).astype("float64")
    figure = rows["odometer_read"] / unit
    small = rows[(figure < _SMALL * lowest) & around["low"].notna()]
    for vehicle, part in small.groupby("vehicle", sort=False):
        part = part.sort_values("date", kind="stable")
        read = part.drop_duplicates("date")["odometer_read"].to_numpy(dtype=float)
        several = len(read) > 1 or part["date"].iloc[0] >= log.loc[log["vehicle"] == vehicle, "date"].max()
        if several and (np.diff(read) >= -_SLACK_MI).all():
            yield _reading_question(str(vehicle), part, around, instrument, sheet)


def _reading_question(
    vehicle: str,
    part: pd.DataFrame,
    around: pd.DataFrame,
    instrument: pd.DataFrame,
    sheet: Sheet,
) -> Question:
    first = part.iloc[0]
    label = part.index[0]
    word = str(instrument.loc[label, "unit"])
    per = MI_PER_KM if word == "km" else 1.0
    stood = float(shown(around["low"], instrument)[label])
    text = (
        f"The readings of {vehicle} note an odometer of {first['odometer_read'] / per:,.0f} {word} on "
        f"{first['date']:%Y-%m-%d} and on; by the log it stood at {stood:,.0f} {word} before. Was it "
        "replaced?"
    )
    at = part.index
    settled = {
        "replaced": Settled(stand=at, more={"mileage": _new_instrument(vehicle, first, word, per)}),
        "log": Settled(stated={WITHOUT: pd.Series("odometer", at, dtype="str")}),
        "wrong": Settled(left_out=at),
    }
    log = sheet.known["mileage"]
    if ((log["vehicle"] == vehicle) & (log["date"] >= first["date"])).any():  # the log says that it was not
        del settled["replaced"]
    cells = tuple((int(k), f"{part.loc[k, 'odometer_read'] / per:,.0f} {word}") for k in at[:_SHOWN])
    return _posed("odometer", text, at, cells, settled)


def _new_instrument(vehicle: str, first: pd.Series, unit: str, per: float) -> pd.DataFrame:
    """The entry of the log that tells of the change."""
    entry = {
        "vehicle": vehicle,
        "date": f"{first['date']:%Y-%m-%d}",
        "odometer": f"{first['odometer_read'] / per:.10g}",
        "unit": unit,
        "event": "replaced",
        "note": "told by the odometer noted beside readings, as was answered",
        **first[["source_file", "source_sheet", "source_row"]].to_dict(),
    }
    return pd.DataFrame([entry])


def _posed(
    kind: str, text: str, at: pd.Index, cells: tuple[tuple[int, str], ...], settled: dict[str, Settled]
) -> Question:
    answers = {
        word: Answer(_MEANS[word], what, tuple(_reads(word, cell) for _, cell in cells))
        for word, what in settled.items()
    }
    return Question(kind, "odometer", text, at, cells, answers)


def _reads(word: str, cell: str) -> str:
    return {
        "replaced": f"{cell} on a new instrument",
        "rolled_over": f"{cell} after passing its last figure",
        "log": "miles from the log",
        "wrong": "not taken",
    }[word]
