"""What a reader of the forecast must know about a wear point, in short plain phrases."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ingest.value_state import LAST_READING
from models.forecast.worked import Worked

Ints = NDArray[np.int64]

WILD = 0.5
"""Chance from which a reading is named as odd."""
BEYOND = 0.5
"""Chance from which a wear point is said to be past its limit."""
MILES_IN_DOUBT = 0.03
"""Doubt about the miles at a reading, as a share of the miles of its life, worth a word. Assumption."""


AFTER_THE_LOG = (
    "read after the last entry of the mileage log: taken at the odometer of that entry, as if it stood"
)


def flags_of(
    public: pd.DataFrame,
    reason: NDArray[np.object_],
    worked: Worked | None,
    condemned: pd.DataFrame | None = None,
    *,
    after_the_log: NDArray[np.bool_] | None = None,
    read: pd.Series | None = None,
) -> NDArray[np.object_]:
    """Flags of every wear point, joined by ``; ``.

    Parameters
    ----------
    public : the public table, all but its flags.
    reason : why a wear point cannot be forecast, else empty.
    worked : the forecast, None if no point can be forecast.
    condemned : point, date, kind of findings that put a part out; None if none are known.
    after_the_log : shape (points,). Whether the last reading has its miles from the log's last entry.
    read : state of the last reading of each point (``ingest.value_state``).
    """
    phrases: list[list[str]] = [[f"cannot be forecast: {text}"] if text else [] for text in reason]
    if condemned is not None:
        _about_condemned(phrases, public, condemned)
    if read is not None:
        for state, words in LAST_READING.items():
            for i in np.flatnonzero(read == state):
                phrases[i].append(words)
    if worked is not None:
        _about_limit(phrases, public)
        _about_life(phrases, worked)
        _about_readings(phrases, worked)
        _about_suspected(phrases, worked)
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
            text = f"condemned by a finding of {pd.Timestamp(date):%Y-%m-%d} ({kind}): out whatever its miles"
            phrases[row[point]].insert(0, text)


def _about_limit(phrases: list[list[str]], public: pd.DataFrame) -> None:
    chance = public["p_beyond_now"].to_numpy(float)
    for i in np.flatnonzero(chance >= BEYOND):
        phrases[i].append(f"past its limit now (chance {_percent(chance[i])})")


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
        (worked.stretch > 1.0, "interval widened: its family was forecast too surely before"),
    )
    for applies, text in notes:
        for i in np.flatnonzero(applies):
            phrases[point[i]].append(text)


def _estimated(worked: Worked) -> NDArray[np.bool_]:
    sd, run = worked.table.lives.miles_sd, worked.table.lives.as_of_miles[worked.life]
    if sd is None:
        return np.zeros(len(worked.life), dtype=bool)
    return np.asarray(np.nan_to_num(sd[worked.life]).max(axis=1) > MILES_IN_DOUBT * run)


def _about_readings(phrases: list[list[str]], worked: Worked) -> None:
    wild = worked.model.wild_[worked.model.row_of_[worked.life]]
    for row, column in np.argwhere(wild >= WILD):
        day = worked.table.lives.day[worked.life[row], column]
        phrases[worked.point[row]].append(f"odd reading on {_date(day)}: counts little, measure again")


def _about_suspected(phrases: list[list[str]], worked: Worked) -> None:
    suspected = worked.table.suspected
    for point, before, after in zip(suspected.point, suspected.day_before, suspected.day_after, strict=True):
        phrases[point].append(
            f"renewal not on record suspected between {_date(before)} and {_date(after)}: confirm"
        )


def _date(day: float) -> str:
    return str(np.datetime64(int(day), "D"))


def _percent(chance: float) -> str:
    return f"{100 * chance:.0f} %" if chance < 0.995 else "over 99 %"
