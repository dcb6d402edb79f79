"""Twenty-two seasons of one engine: inspections, renewals at their limit or in the winter, tire turnings."""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import pandas as pd

from data_demo.draws import Floats, normal, uniform
from data_demo.traffic import FIRST_DAY, LAST_DAY, SEASONS, Running, day_between
from data_demo.wear_law import FIT_SPREAD, WearLaw, remaining

WILD = 0.006  # share of readings that are misread by far: a wrong scale, a wrong line of the sheet
POSTPONED = 0.12  # chance that a renewal that is due waits another year: no casting, no time
SHORT_OF_HANDS = 2023  # since this winter only what is past its limit is renewed
TREAD = ("HOLLOW", "FLANGE", "HEIGHT")
THICKNESS = ("TIRE", "RIM")
SHEETS = {
    "wheels": ("HOLLOW", "FLANGE", "HEIGHT", "TIRE", "RIM"),
    "boxes": ("JOURNAL", "CROWN", "LINER", "LATERAL", "SHOE", "WEDGE", "BRASS"),
    "springs": ("HANGER-F", "HANGER-B", "EQUALIZER", "BRAKEHANGER", "BOLSTER", "DRAWBARPIN"),
}
"""Which sheet a kind is written on; what is not listed belongs to the motion."""


def sheet_of(code: str) -> str:
    """Return the sheet that a kind is written on."""
    return next((sheet for sheet, codes in SHEETS.items() if code in codes), "motion")


@dataclass
class Life:
    """The life in service at one wear point: where it began, its hidden level and rate, its cuts."""

    start: int
    z0: float
    rate: float
    known_start: bool
    cuts: list[tuple[int, float]] = field(default_factory=list)


class Service:
    """The shop's record of one engine, as it happened: readings, work, and the lives at the last day."""

    def __init__(self, points: pd.DataFrame, running: Running) -> None:
        self.law = WearLaw(points, running)
        self.running = running
        self.points = self.law.points
        self.rows = self.points.to_dict("records")
        self.readings: dict[tuple[int, date], float] = {}
        self.work: list[tuple[str, date, str, float, float, str]] = []
        self.lives = [self._first_life(i) for i in range(len(self.points))]
        self.seen: Floats = np.zeros(len(self.points))  # wear as last measured, share of D
        for season in SEASONS:
            self._season(season)

    # What a part is like on a day

    def wear(self, i: int, day: int) -> float:
        """Return the true wear of point i on the evening of a day. [unit of the point]"""
        return float(self._wear_path(i, np.array([day]))[0])

    def _wear_path(self, i: int, days: np.ndarray) -> Floats:
        life, law, odometer = self.lives[i], self.law, self.running.odometer
        miles = odometer[days] - odometer[life.start]
        z = life.z0 + life.rate * miles + law.tau[i] * (law.path[i, days] - law.path[i, life.start])
        z = z + sum(np.where(days >= day, step, 0.0) for day, step in life.cuts)
        return law.bend(z, miles, np.array(i))

    def value(self, i: int, wear: float) -> float:
        """Return the quantity that belongs to a wear. [unit of the point]"""
        return float(self.law.new[i] + self.law.sign[i] * wear)

    # What the shop writes down

    def measure(self, i: int, day: date, *, careful: bool = False) -> float:
        """Measure point i, with the error of the gauge and the hand. [unit of the point]"""
        row = self.rows[i]
        name = (row["point"], day, careful)
        error = float(row["sd"]) * normal(*name, "gauge") * (0.5 if careful else 1.0)
        if not careful and uniform(*name, "wild") < WILD:
            error *= 8.0
        return max(self.value(i, self.wear(i, self.running.index(day))) + error, 0.0)

    def _read(self, i: int, day: date) -> None:
        value = self.measure(i, day)
        self.readings[i, day] = value
        self.seen[i] = self.law.sign[i] * (value - self.law.new[i]) / self.law.scale[i]

    def _fit(self, i: int) -> float:
        """Return the scatter of a new part; tires of a set are turned to one size. [unit of the point]"""
        spread = 0.003 if self.rows[i]["code"] in THICKNESS else FIT_SPREAD
        return spread * float(self.law.scale[i])

    def _begin(self, i: int, day: date, z0: float, *, known: bool = True) -> Life:
        start = self.running.index(day)
        return Life(start, z0, self.law.life_rate(i, (self.rows[i]["matched"], day)), known)

    def _first_life(self, i: int) -> Life:
        """Begin with the restoration of 2005: most parts new, axles, pins and tires part worn."""
        row = self.rows[i]
        worn, point = float(row["worn"]), str(row["point"])
        day = FIRST_DAY + timedelta(days=4 + int(20 * uniform(row["vehicle"], row["component"], "restored")))
        if worn > 0:
            alike = (row["vehicle"], row["matched"] or row["axle"], row["component"])  # one diameter in a set
            share = max(worn * (1 + 0.35 * normal(*alike, "worn")), 0.02)
            return self._begin(i, FIRST_DAY, share * float(self.law.scale[i]), known=False)
        z0 = self._fit(i) * normal(point, day, "fit")
        self.work.append((point, day, "renewed", np.nan, self.value(i, z0), "restoration"))
        return self._begin(i, day, z0)

    # A season

    def _season(self, season: int) -> None:
        codes = self.points["code"]
        for sheet in ("wheels", "boxes", "springs", "motion"):
            members = [i for i in range(len(codes)) if sheet_of(str(codes[i])) == sheet]
            name = (self.running.engine.vehicle, sheet, season)
            summer = day_between(date(season, 7, 3), date(season, 8, 27), *name, "summer")
            self._visit(members, summer, season, "summer")
            if season == LAST_DAY.year:
                self._visit(
                    members, day_between(date(season, 10, 19), LAST_DAY - timedelta(2), *name), season, "last"
                )
            else:
                winter = day_between(date(season, 11, 4), date(season + 1, 2, 28), *name, "winter")
                self._visit(members, winter, season, "winter")
        if season != LAST_DAY.year:
            self._renewals(season)
            self._turnings(season)

    def _visit(self, members: list[int], day: date, season: int, visit: str) -> None:
        """Measure what is measured at this visit; now and then a position is left out."""
        overhaul = season in self.running.engine.overhauls and visit == "winter"
        for i in members:
            row = self.rows[i]
            yearly = float(row["per_year"])
            chance = {"summer": np.clip(yearly - 0.85, 0, 1), "winter": min(yearly, 1.0), "last": 0.5}[visit]
            if (
                row["access"] == "wheels_out"
                and yearly < 0.5
                or (visit == "last" and row["access"] == "rods_down")
            ):
                chance = 0.04 if yearly > 0 else 0.0
            kind = (row["vehicle"], row["component"], row["quantity"], season, visit)
            taken = overhaul and yearly > 0 or uniform(*kind, "taken") < chance
            if taken and uniform(row["point"], season, visit, "left out") > 0.05:
                later = int(3 * uniform(*kind, row["axle"], "day"))
                self._read(i, min(day + timedelta(later), LAST_DAY))

    def _due(self, i: int, season: int) -> bool:
        """Return whether the shop renews point i this winter."""
        row = self.rows[i]
        overhaul = season in self.running.engine.overhauls
        bar = float(row["renew_at"])
        if season >= SHORT_OF_HANDS and not overhaul:
            bar = 1.0
        if row["access"] == "wheels_out":
            bar = 0.50 if overhaul else max(bar, 0.92)
        elif overhaul:
            bar = 0.65
        return bool(self.seen[i] >= bar) and uniform(row["point"], season, "postponed") >= POSTPONED

    def _work_day(self, season: int, *name: object) -> date:
        return day_between(
            date(season + 1, 3, 3), date(season + 1, 4, 20), self.running.engine.vehicle, season, *name
        )

    def _renewals(self, season: int) -> None:
        for i, code in enumerate(self.points["code"]):
            if code in TREAD + THICKNESS:
                continue
            row = self.rows[i]
            day = self._work_day(season, row["component"], row["axle"])
            if self._due(i, season):
                self.renew(i, day, "")
            elif code in ("JOURNAL", "CRANKPIN") and season in self.running.engine.overhauls:
                if uniform(row["point"], season, "trued") < 0.45:
                    self.cut(i, day, 0.012 + 0.03 * uniform(row["point"], season, "depth"), "trued")

    def renew(self, i: int, day: date, note: str, *, after: float | None = None) -> None:
        """Renew point i: a new life begins. ``after`` is the value that the shop set, else a new part's."""
        before = self.measure(i, day, careful=True)
        z0 = self._fit(i) * normal(self.rows[i]["point"], day, "fit")
        if after is not None:
            z0 = float(self.law.sign[i] * (after - self.law.new[i]))
        self.lives[i] = self._begin(i, day, z0)
        self.seen[i] = z0 / self.law.scale[i]
        fitted = self.value(i, z0) if after is not None else self.measure(i, day, careful=True)
        self.work.append((self.rows[i]["point"], day, "renewed", before, fitted, note))
        if uniform(self.rows[i]["point"], day, "as fitted") < 0.4 and day + timedelta(3) <= LAST_DAY:
            self._read(i, day + timedelta(1))

    def cut(self, i: int, day: date, depth: float, note: str) -> None:
        """Take metal off point i: its wear steps by the depth, its life goes on."""
        before = self.measure(i, day, careful=True)
        self.lives[i].cuts.append((self.running.index(day), depth))
        self.seen[i] += depth / self.law.scale[i]
        self.work.append(
            (self.rows[i]["point"], day, "cut", before, self.measure(i, day, careful=True), note)
        )

    def _turnings(self, season: int) -> None:
        """Turn the wheels of a matched set when the worst of them calls for it."""
        overhaul = season in self.running.engine.overhauls
        for matched, group in self.points[self.points["code"].isin(TREAD)].groupby("matched"):
            worst = self.seen[group.index].max()
            late = uniform(matched, season, "lathe") < POSTPONED
            if worst >= (0.45 if overhaul else 0.86) and not late:
                self._turn(str(matched), self._work_day(season, matched, "lathe"))

    def _turn(self, matched: str, day: date) -> None:
        members = self.points[self.points["matched"] == matched]
        thick = members[members["code"].isin(THICKNESS)]
        index = self.running.index(day)
        depth = {int(i): self._metal_off(i, members, index) for i in thick.index}
        left = min(self.value(i, self.wear(i, index)) - depth[i] for i in depth)
        margin = left - float(thick["limit"].iloc[0])
        tires_renewed = margin < 0.15 * abs(float(thick["new"].iloc[0] - thick["limit"].iloc[0]))
        note = "new tires" if tires_renewed else "turned, set to one diameter"
        for i in members.index[members["code"].isin(TREAD)]:
            # A worn flange is not always brought back to full: a thinner one saves tread.
            thin = (
                0.0625 if members.at[i, "code"] == "FLANGE" and uniform(matched, day, "thin") < 0.3 else 0.0
            )
            profile = None if thin == 0 or tires_renewed else float(self.law.new[i]) - thin
            self.renew(int(i), day, note if profile is None else note + ", thin flange", after=profile)
        for i in depth:
            if tires_renewed:
                self.renew(i, day, note)
            else:
                self.cut(i, day, self.value(i, self.wear(i, index)) - left, note)

    def _metal_off(self, i: int, members: pd.DataFrame, index: int) -> float:
        """Return what turning takes from the lowest point of the tread of wheel i. [unit of the point]

        A clean-up cut, and 0.8 of what the flange has lost: metal for a full flange can only come from
        deeper in the tire (the factor is invented; it depends on the flange angle).
        """
        per_inch = 25.4 if members.at[i, "unit"] == "mm" else 1.0
        here = members[members["position"] == members.at[i, "position"]]
        flange = here.index[here["code"] == "FLANGE"]
        lost = max((self.wear(int(j), index) for j in flange), default=0.0)
        return per_inch * (0.05 + 0.8 * max(lost, 0.0))

    # What is true on the last day

    def truth(self) -> pd.DataFrame:
        """Return where the life in service truly reaches its limit, one row a wear point."""
        return pd.DataFrame([self._truth_of(i) for i in range(len(self.points))])

    def _truth_of(self, i: int) -> dict[str, object]:
        life, law, odometer = self.lives[i], self.law, self.running.odometer
        days = np.arange(life.start, len(odometer))
        wear = self._wear_path(i, days)
        reached = np.flatnonzero(wear >= law.scale[i])
        if len(reached):
            miles = float(odometer[days[reached[0]]] - odometer[-1])
        else:
            gap = self._gap(i, float(wear[-1]))
            miles = remaining(life.rate, float(law.tau[i]), gap, self.rows[i]["point"])
        known = bool(np.isfinite(self.rows[i]["limit"]))
        return {
            "point": self.rows[i]["point"],
            "life_began": self.running.days[life.start] if life.known_start else None,
            "value_now": round(self.value(i, float(wear[-1])), 5),
            "rate_per_1000_mi": round(1000 * life.rate, 6),
            "limit_odometer": round(float(odometer[-1]) + miles) if known else None,
            "remaining_miles": round(miles) if known else None,
        }

    def _gap(self, i: int, wear: float) -> float:
        """Return the way to the limit on the straight scale; by the limit the part has run in."""
        law, life = self.law, self.lives[i]
        if law.accelerating[i]:
            return float(law.scale[i] - law.scale[i] * (max(wear, 0.0) / law.scale[i]) ** (1 / 1.3))
        miles = float(self.running.odometer[-1] - self.running.odometer[life.start])
        z = wear - float(law.bend(np.array(0.0), np.array(miles), np.array(i)))
        return max(float(law.scale[i] - law.run_in[i]) - z, 1e-9)
