"""Readings and work of parts that moved, at the place where each part is now."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.lives.record import APART, SAME_DAY, MileageLogs
from models.lives.tracks import Tracks

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Tables = dict[str, pd.DataFrame]

SHOP_MARKS = "shop_marks"
"""Table of what was measured when parts were exchanged: point, day, odometer, value."""


@dataclass(frozen=True)
class Moving:
    """Readings and work of tables, put at the place of their part.

    Attributes
    ----------
    given : the tables.
    points : their wear points.
    logs, vehicle : mileage logs, and the number of each wear point's vehicle in them.
    tracks : who fills each wear point when.
    """

    given: Tables
    points: pd.DataFrame
    logs: MileageLogs
    vehicle: Ints
    tracks: Tracks

    @property
    def _spells(self) -> pd.DataFrame:
        """In order of wear point and day."""
        return self.tracks.spells

    def _at(self, row: Ints, day: Floats) -> Ints:
        """The spell of each wear point on each day; -1: none."""
        spells = self._spells
        since = np.maximum(spells["since"].to_numpy(), -APART / 2)
        axis = spells["row"].to_numpy() * APART + since
        found = np.searchsorted(axis, row * APART + day, side="right") - 1
        own = spells["row"].to_numpy()[np.maximum(found, 0)] == row
        return np.asarray(np.where((found >= 0) & own, found, -1), dtype=np.int64)

    def _placed(self, rows: pd.DataFrame) -> tuple[Ints, Floats, Ints]:
        """Wear point, day and spell of rows with point and date; -1: no spell."""
        row = pd.Index(self.points["point"]).get_indexer(pd.Index(rows["point"])).astype(np.int64)
        dates = rows["date"].to_numpy().astype("datetime64[D]")
        known = (row >= 0) & ~np.isnat(dates)
        day = np.where(known, dates.astype(np.int64), 0).astype(float)
        return row, day, np.where(known, self._at(np.maximum(row, 0), day), -1)

    def readings(self, names: NDArray) -> pd.DataFrame:
        """The readings at their part, in their order; ``names``: of the wear points and tracks."""
        readings = self.given["readings"]
        row, day, spell = self._placed(readings)
        spell = self._of_the_day(readings, row, day, spell)
        some = np.flatnonzero(spell >= 0)
        spells = self._spells.iloc[spell[some]]
        target, shift = spells["target"].to_numpy(), spells["shift"].to_numpy()
        point = readings["point"].to_numpy(dtype=object)
        point[some] = names[target]
        odometer = readings["odometer"].to_numpy(float).copy()
        odometer[some] += shift
        moved = np.zeros(len(readings), dtype=bool)
        moved[some] = (target != row[some]) | (shift != 0.0)
        named = pd.Series(point, readings.index, dtype="str")
        return readings.assign(point=named, odometer=odometer, moved=moved)

    def _of_the_day(self, readings: pd.DataFrame, row: Ints, day: Floats, spell: Ints) -> Ints:
        """Readings of the day of an exchange are of the part that went, where they are told as found or name
        it, or are nearer to what was read of it before than to what was read of the one that came."""
        spells = self._spells
        came = (spell >= 1) & (spells["since"].to_numpy()[np.maximum(spell, 0)] == day)
        came &= spells["row"].to_numpy()[np.maximum(spell - 1, 0)] == row
        out = spell.copy()
        value, told = readings["value"].to_numpy(float), self._told
        numbers = readings["row_id"].to_numpy(np.int64) if "row_id" in readings else np.full(len(row), -1)
        for i in np.flatnonzero(came).tolist():
            two = spells["part_no"].iloc[[spell[i] - 1, spell[i]]].tolist()
            part, found = told.get(int(numbers[i]), ("", ""))
            if part and part in two and two[0] != two[1]:
                goes = part == two[0]
            elif found:
                goes = found == "found"
            else:
                goes = self._nearer_to_former(value, spell, row, day, i)
            out[i] = spell[i] - 1 if goes else spell[i]
        return out

    def _nearer_to_former(self, value: Floats, spell: Ints, row: Ints, day: Floats, i: int) -> bool:
        """Whether reading i is nearer to the last one before of the part that went."""
        spells = self._spells
        former = np.flatnonzero((spell == spell[i] - 1) & (day < day[i]))
        if not len(former):
            return False
        came = spells["track"].to_numpy() == spells["track"].iloc[spell[i]]
        of_new = np.flatnonzero((spell >= 0) & came[np.maximum(spell, 0)] & (day < day[i]))
        new = value[of_new[day[of_new].argmax()]] if len(of_new) else self.points["new_value"].iloc[row[i]]
        off = abs(value[i] - value[former[day[former].argmax()]])
        return bool(off < abs(value[i] - new))

    @property
    def _told(self) -> dict[int, tuple[str, str]]:
        """Part and found or left of readings that tell them, by row_id."""
        told = self.given.get("told", self.given["readings"])
        if "row_id" not in told or "part_no" not in told:
            return {}
        cells = (told[name] for name in ("row_id", "part_no", "found_or_left"))
        return {int(number): (str(part), str(left)) for number, part, left in zip(*cells, strict=True)}

    def work(self, names: NDArray) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Work at its part; and what was measured when one part went and another came."""
        work = self.given["work"]
        row, day, spell = self._placed(work)
        spells, keep = self._spells, np.ones(len(work), dtype=bool)
        point, odometer = work["point"].to_numpy(dtype=object), np.full(len(work), np.nan)
        marks: list[tuple[object, float, float, float]] = []
        for i in np.flatnonzero(spell >= 0).tolist():
            own = spells.iloc[spell[i]]
            point[i] = names[int(own["target"])]
            if own["target"] != row[i] or own["shift"] != 0.0:
                odometer[i] = self._odometer(row[i], day[i]) + float(own["shift"])
            if day[i] != own["since"] or work["action"].iloc[i] != "renewed":
                continue
            before, after = (float(work[name].iloc[i]) for name in ("value_before", "value_after"))
            former = spells.iloc[max(spell[i] - 1, 0)]
            if np.isfinite(before) and spell[i] > 0 and former["row"] == row[i]:
                at = self._odometer(row[i], day[i]) + float(former["shift"])
                marks.append((names[int(former["target"])], day[i] - SAME_DAY, at, before))
            if self._first_there(int(spell[i])) or not self._renewed(after, row[i], spell[i], day[i]):
                keep[i] = False  # the renewal is the exchange itself
                if np.isfinite(after):
                    at = self._odometer(row[i], day[i]) + float(own["shift"])
                    marks.append((point[i], day[i] + SAME_DAY, at, after))
        moved = work.assign(point=pd.Series(point, work.index, dtype="str"), odometer=odometer)
        columns = ["point", "day", "odometer", "value"]
        return moved[keep].reset_index(drop=True), pd.DataFrame(marks, columns=columns)

    def _odometer(self, row: int, day: float) -> float:
        return float(self.logs.at(self.vehicle[[row]], np.array([day]))[0])

    def _first_there(self, spell: int) -> bool:
        """Whether a spell is the first of its track."""
        spells = self._spells
        own = spells.loc[spells["track"] == spells["track"].iloc[spell], "since"]
        return bool(spells["since"].iloc[spell] == own.min())

    def _renewed(self, after: float, row: int, spell: int, day: float) -> bool:
        """Whether a part that had run before was renewed as it was fitted: it measured nearer to new than
        what was read of it last."""
        readings, spells = self.given["readings"], self._spells
        track = spells["track"].iloc[spell]
        own = spells[(spells["track"] == track) & (spells["since"] < day)]
        last = np.nan
        for place in own.to_dict("records"):
            at = readings[readings["point"] == self.points["point"].iloc[place["row"]]]
            days = at["date"].to_numpy().astype("datetime64[D]").astype(np.int64)
            inside = at[(days >= place["since"]) & (days < place["until"])].sort_values("date")
            last = float(inside["value"].iloc[-1]) if len(inside) else last
        new = float(self.points["new_value"].iloc[row])
        return bool(np.isfinite(after) and abs(after - new) < abs(after - last))
