"""What a reader of the forecast must know about a wear point, in short plain phrases."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.value_state import LAST_READING
from models.forecast.alarms import Alarm, alarm_flags
from models.forecast.from_lifetimes import FromLifetimes
from models.forecast.worked import Worked
from models.frequency import times_in_100

Ints = NDArray[np.int64]

BEYOND = 0.5
"""Chance from which a wear point is said to be past its limit."""
MILES_IN_DOUBT = 0.03
"""Doubt about the miles at a reading, as a share of the miles of its life, worth a word. Assumption."""


AFTER_THE_LOG = (
    "read after the last entry of the mileage log: taken at the odometer of that entry, as if it stood"
)


def flags_of(
    public: pd.DataFrame,
    worked: Worked | None,
    unread: FromLifetimes,
    condemned: pd.DataFrame | None = None,
    *,
    after_the_log: NDArray[np.bool_] | None = None,
    read: pd.Series | None = None,
    alarms: Sequence[Alarm] = (),
) -> NDArray[np.object_]:
    """Flags of every wear point, joined by ``; ``.

    Parameters
    ----------
    public : the public table, all but its flags.
    worked : the forecast by the wear model, None if it can forecast no point.
    unread : the forecast without readings, and why a wear point cannot be forecast.
    condemned : point, date, kind of findings that put a part out; None if none are known.
    after_the_log : shape (points,). Whether the last reading has its miles from the log's last entry.
    read : state of the last reading of each point (``ingest.value_state``).
    alarms : their words are flags of the points that they concern.
    """
    phrases: list[list[str]] = [[f"cannot be forecast: {text}"] if text else [] for text in unread.reason]
    if condemned is not None:
        _about_condemned(phrases, public, condemned)
    if read is not None:
        for state, words in LAST_READING.items():
            for i in np.flatnonzero(read == state):
                phrases[i].append(words)
    if worked is not None:
        _about_limit(phrases, public)
        _about_life(phrases, worked)
    for row, words in zip(unread.point, unread.flags, strict=True):
        phrases[row].append(words)
    for row, words in alarm_flags(alarms):
        phrases[row].append(words)
    if after_the_log is not None:
        for i in np.flatnonzero(after_the_log):
            phrases[i].append(AFTER_THE_LOG)
    return np.array(["; ".join(parts) for parts in phrases], dtype=object)


def _about_condemned(phrases: list[list[str]], public: pd.DataFrame, condemned: pd.DataFrame) -> None:
    row = {point: i for i, point in enumerate(public["point"])}
    for point, kind, date in (
        condemned[["point", "kind", "date"]].drop_duplicates("point").itertuples(index=False)
    ):
        if point in row:
            day = f"{pd.Timestamp(date):%Y-%m-%d}"
            text = f"condemned by a finding of {day} ({kind}): out of service whatever its miles"
            phrases[row[point]].insert(0, text)


def _about_limit(phrases: list[list[str]], public: pd.DataFrame) -> None:
    chance = public["p_beyond_now"].to_numpy(float)
    for i in np.flatnonzero(chance >= BEYOND):
        phrases[i].append(f"past its limit now {times_in_100(chance[i])}")


def _about_life(phrases: list[list[str]], worked: Worked) -> None:
    """How much is known of the life and its family, and how its wear runs."""
    lives, life, point = worked.table.lives, worked.life, worked.point
    count = lives.count
    family = worked.table.scale.family[point]
    in_family = np.bincount(lives.family[count > 0], minlength=len(worked.table.scale.family_name))
    notes = (
        (count[life] == 0, "no reading since renewal: forecast from its family"),
        (count[life] == 1, "one reading in this life"),
        (in_family[family] == 1, "only life of its family: spread between lives assumed"),
        (
            np.zeros(len(life), bool) if lives.unknown_step is None else lives.unknown_step[life, 0],
            "beginning of this life not on record",
        ),
        (worked.kinds[:, 0] < 0.5, "wear is not straight"),
        (_estimated(worked), "odometer partly estimated"),
        (worked.stretch > 1.0, "range widened: its family was forecast too surely before"),
    )
    for applies, text in notes:
        for i in np.flatnonzero(applies):
            phrases[point[i]].append(text)


def _estimated(worked: Worked) -> NDArray[np.bool_]:
    sd, run = worked.table.lives.miles_sd, worked.table.lives.as_of_miles[worked.life]
    if sd is None:
        return np.zeros(len(worked.life), dtype=bool)
    return np.asarray(np.nan_to_num(sd[worked.life]).max(axis=1) > MILES_IN_DOUBT * run)
