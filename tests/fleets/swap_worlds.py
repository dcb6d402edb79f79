"""Engines whose wheelsets change places, with the truth: shares no code with the other simulators.

An engine has wheelsets of one class. Each wheelset wears at rates of its own, on both sides and in each
quantity; the wear goes with it wherever it is fitted. Every engine runs its own miles. Now and then two
wheelsets of an engine, or of two engines, are exchanged.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DAY0 = pd.Timestamp("2010-01-01")
SIDES = ("left", "right")
QUANTITIES = (
    # component, quantity, new, limit, sd of the gauge [mm], mean life [mi]
    ("driver tire", "tread hollow", 0.0, 8.0, 0.15, 90_000.0),
    ("driver tire", "flange thickness", 32.0, 24.0, 0.2, 110_000.0),
    ("driving journal", "diameter", 254.0, 235.0, 0.1, 500_000.0),
)


@dataclass(frozen=True)
class SwapPlan:
    """What is simulated.

    Attributes
    ----------
    axles : wheelsets of an engine.
    years : length of the record. [years]
    exchanges : exchanges of two wheelsets of an engine in that time.
    across : exchanges of two wheelsets of neighbouring engines.
    spread : standard deviation of a wheelset's rates over their mean; a third of it is its own to each
        quantity and side. [1]
    brownian : standard deviation of the Brownian part over one mean life, share of the limit. [1]
    apart : levels of two exchanged wheelsets differ in one quantity by at least so many gauge errors; 0: as
        they come.
    after : readings that must lie after each exchange.
    """

    engines: int = 4
    axles: int = 4
    years: float = 10.0
    exchanges: int = 2
    across: int = 0
    spread: float = 0.3
    brownian: float = 0.02
    apart: float = 0.0
    after: int = 2


@dataclass(frozen=True)
class SwapWorld:
    """The record, and the truth.

    Attributes
    ----------
    tables : normalised tables, parts and fittings among them.
    exchanges : day [d since 1970-01-01] and the two places, ``engine 0 driver 1``.
    remaining : true miles left of each wear point. [mi]
    """

    tables: dict[str, pd.DataFrame]
    exchanges: list[tuple[int, str, str]]
    remaining: pd.Series

    def untold(self) -> dict[str, pd.DataFrame]:
        """The tables as they are where nobody named a part."""
        empty = {name: self.tables[name].iloc[:0] for name in ("parts", "fittings")}
        return self.tables | empty


def simulate_swaps(seed: int, plan: SwapPlan) -> SwapWorld:
    """A world by the plan. The wheelsets and their readings' errors are those of the same seed without
    exchanges."""
    rng = np.random.default_rng(seed)
    n = plan.engines * plan.axles
    own = np.exp(rng.normal(0.0, plan.spread, (n, 1, 1)))
    factor = own * np.exp(rng.normal(0.0, plan.spread / 3, (n, len(QUANTITIES), 2)))
    begun = rng.uniform(0.0, 0.25, (n, 1, 1)) * np.ones_like(
        factor
    )  # share of the limit, worn before the record
    days = (
        np.sort(rng.integers(30, 335, (int(plan.years), 2)), axis=1)
        + 365 * np.arange(int(plan.years))[:, None]
    )
    read_on = days.ravel()
    last = int(365 * plan.years)
    per_day = rng.uniform(9.0, 16.0, plan.engines)
    error = rng.normal(0.0, 1.0, (n, len(read_on), len(QUANTITIES), 2))
    steps = rng.normal(0.0, 1.0, (n, len(read_on) + 1, len(QUANTITIES), 2))
    at = _exchanged(np.random.default_rng([seed, 1]), plan, read_on, factor, begun, per_day)
    place, exchanges = _places(plan, read_on, at)
    return _world(plan, (factor, begun, steps, error), (read_on, last, per_day), place, exchanges)


def _exchanged(
    rng: np.random.Generator, plan: SwapPlan, read_on: Ints, factor: Floats, begun: Floats, per_day: Floats
) -> list[tuple[int, int, int]]:
    """Number of the reading after which, and the two places, of every exchange, in order of time."""
    found: list[tuple[int, int, int]] = []
    pairs = [(e, e) for e in range(plan.engines) for _ in range(plan.exchanges)]
    pairs += [(e, (e + 1) % plan.engines) for e in range(plan.across)]
    last = len(read_on) - plan.after
    for one, other in pairs:
        for _ in range(200):
            when = int(rng.integers(3, last))
            a, b = (
                one * plan.axles + int(rng.integers(plan.axles)),
                other * plan.axles + int(rng.integers(plan.axles)),
            )
            busy = any({a, b} & {x, y} and abs(when - w) <= plan.after for w, x, y in found)
            if a == b or busy:
                continue
            if plan.apart and not _apart(
                plan, (a, b), read_on[when], factor, begun, per_day, sorted(found), when
            ):
                continue
            found.append((when, a, b))
            break
    return sorted(found)


def _apart(
    plan: SwapPlan,
    two: tuple[int, int],
    day: int,
    factor: Floats,
    begun: Floats,
    per_day: Floats,
    before: list[tuple[int, int, int]],
    when: int,
) -> bool:
    """Whether the levels of what lies at two places differ enough in one quantity, by the mean wear."""
    at = np.arange(len(factor))
    for w, x, y in before:
        if w < when:
            at[[x, y]] = at[[y, x]]
    level = []
    for place in two:
        part = at[place]
        for_life = np.array([q[5] for q in QUANTITIES])[:, None]
        level.append(begun[part] + factor[part] * day * per_day[place // plan.axles] / for_life)
    span = np.array([abs(q[3] - q[2]) / q[4] for q in QUANTITIES])[:, None]
    return bool((np.abs(level[0] - level[1]) * span).max() >= plan.apart)


def _places(
    plan: SwapPlan, read_on: Ints, at: list[tuple[int, int, int]]
) -> tuple[Ints, list[tuple[int, str, str]]]:
    """Place of each wheelset at each reading (n, readings + 1); the exchanges in words."""
    n = plan.engines * plan.axles
    place = np.empty((n, len(read_on) + 1), dtype=np.int64)
    now, told = np.arange(n), []
    for number in range(len(read_on) + 1):
        for _, x, y in (e for e in at if e[0] == number):
            first, second = np.flatnonzero(now == x)[0], np.flatnonzero(now == y)[0]
            now[first], now[second] = y, x
            told.append((_day(int(read_on[number - 1]) + 10), _name(plan, x), _name(plan, y)))
        place[:, number] = now
    return place, told


def _day(day: int) -> int:
    return int((DAY0 - pd.Timestamp("1970-01-01")).days) + day


def _name(plan: SwapPlan, place: int) -> str:
    return f"engine {place // plan.axles} driver {place % plan.axles + 1}"


def _world(
    plan: SwapPlan,
    drawn: tuple[Floats, Floats, Floats, Floats],
    days: tuple[Ints, int, Floats],
    place: Ints,
    exchanges: list[tuple[int, str, str]],
) -> SwapWorld:
    factor, begun, steps, error = drawn
    read_on, last, per_day = days
    until = np.append(read_on, last)
    life = np.array([q[5] for q in QUANTITIES])[:, None]
    wear, rows, level = begun.copy(), [], begun.copy()
    run = np.zeros(len(place))
    for number, day in enumerate(until):
        since = 0 if number == 0 else int(until[number - 1])
        change = since + 10 if number else 0  # exchanges are made ten days after a reading
        before = place[:, max(number - 1, 0)] // plan.axles
        after = place[:, number] // plan.axles
        ran = (
            np.maximum(min(change, day) - since, 0) * per_day[before] + max(day - change, 0) * per_day[after]
        )
        run += ran
        gone = (ran[:, None, None] / life) * factor
        wear = wear + gone
        level = level + gone + plan.brownian * np.sqrt(ran[:, None, None] / life) * steps[:, number]
        if number < len(read_on):
            rows += _readings(plan, place[:, number], level, error[:, number], int(day), per_day)
    tables = _tables(plan, rows, last, per_day)
    tables |= _told(plan, place, read_on)
    return SwapWorld(tables, exchanges, _remaining(plan, place[:, -1], level, factor))


def _points(plan: SwapPlan) -> pd.DataFrame:
    rows = []
    for place in range(plan.engines * plan.axles):
        for component, quantity, new, limit, _, _ in QUANTITIES:
            for side in SIDES:
                position = f"driver {place % plan.axles + 1} {side}"
                vehicle = f"engine {place // plan.axles}"
                rows.append(
                    (f"{vehicle} {position} {quantity}", vehicle, component, position, quantity, new, limit)
                )
    columns = ["point", "vehicle", "component", "position", "quantity", "new_value", "condemning_limit"]
    made = pd.DataFrame(rows, columns=columns)
    gauge = {quantity: sd for _, quantity, _, _, sd, _ in QUANTITIES}
    return made.assign(
        unit="mm", base_unit="mm", per_base=1.0, shop_limit=np.nan, condemned_when="", limit_source="",
        gauge_sd=made["quantity"].map(gauge), access="wheels_out", matched_set="",
    )  # fmt: skip


def _readings(
    plan: SwapPlan, place: Ints, level: Floats, error: Floats, day: int, per_day: Floats
) -> list[tuple[object, ...]]:
    rows = []
    for part, where in enumerate(place):
        vehicle = where // plan.axles
        for q, (_, quantity, new, limit, sd, _) in enumerate(QUANTITIES):
            for s, side in enumerate(SIDES):
                name = f"engine {vehicle} driver {where % plan.axles + 1} {side} {quantity}"
                value = new + (limit - new) * level[part, q, s] + sd * error[part, q, s]
                rows.append((name, day, round(float(value), 3), day * per_day[vehicle]))
    return rows


def _tables(
    plan: SwapPlan, rows: list[tuple[object, ...]], last: int, per_day: Floats
) -> dict[str, pd.DataFrame]:
    read = pd.DataFrame(rows, columns=["point", "day", "value", "odometer"])
    days = np.append(np.arange(0, last, 30), last)
    log = [(f"engine {e}", day, day * per_day[e]) for e in range(plan.engines) for day in days.tolist()]
    mileage = pd.DataFrame(log, columns=["vehicle", "day", "odometer"])
    nothing = pd.Series(dtype="str")
    return {
        "vehicles": pd.DataFrame(
            {"vehicle": [f"engine {e}" for e in range(plan.engines)], "class": "one", "arrangement": "0-8-0"}
        ),
        "wear_points": _points(plan),
        "mileage": mileage.assign(date=_dates(mileage["day"]))[["vehicle", "date", "odometer"]],
        "readings": read.assign(
            date=_dates(read["day"]), odometer_sd=0.0, row_id=np.arange(len(read)), gauge=""
        )[["row_id", "point", "date", "value", "odometer", "odometer_sd", "gauge"]],
        "work": pd.DataFrame(
            {"point": nothing, "date": _dates(pd.Series(dtype=int)), "action": nothing}
        ).assign(value_before=np.nan, value_after=np.nan),
        "usage": pd.DataFrame({"vehicle": [], "month": [], "miles_planned": [], "miles_sd": []}),
    }


def _dates(days: pd.Series) -> pd.Series:
    return (DAY0 + pd.to_timedelta(days.astype("int64"), unit="D")).astype("datetime64[us]")


def _told(plan: SwapPlan, place: Ints, read_on: Ints) -> dict[str, pd.DataFrame]:
    """Parts and fittings as a careful railway would write them."""
    rows = []
    for part, where in enumerate(place):
        moved = np.flatnonzero(np.diff(where)) + 1
        for number, end in zip([0, *moved], [*moved, -1], strict=True):
            at = int(where[number])
            since = 0 if number == 0 else int(read_on[number - 1]) + 10
            until = pd.NaT if end < 0 else DAY0 + pd.Timedelta(days=int(read_on[end - 1]) + 10)
            fitted = (f"engine {at // plan.axles}", f"driver {at % plan.axles + 1}")
            why = "while_open" if end >= 0 else ""
            rows.append((f"WS{part:02d}", *fitted, DAY0 + pd.Timedelta(days=since), until, why))
    columns = ["part_no", "vehicle", "position", "since", "until", "why"]
    fittings = pd.DataFrame(rows, columns=columns)
    for name in ("since", "until"):
        fittings[name] = pd.to_datetime(fittings[name]).astype("datetime64[us]")
    numbers = sorted(fittings["part_no"].unique())
    parts = pd.DataFrame({"part_no": numbers, "component": "driving wheelset", "material": ""})
    return {"parts": parts.assign(miles_before=np.nan, **{"class": "one"}), "fittings": fittings}


def _remaining(plan: SwapPlan, place: Ints, level: Floats, factor: Floats) -> pd.Series:
    """Miles to the limit at the wheelset's own rate, the Brownian part left out."""
    left = {}
    for part, where in enumerate(place):
        for q, (_, quantity, _, _, _, life) in enumerate(QUANTITIES):
            for s, side in enumerate(SIDES):
                name = f"engine {where // plan.axles} driver {where % plan.axles + 1} {side} {quantity}"
                left[name] = max(1.0 - level[part, q, s], 0.0) * life / factor[part, q, s]
    return pd.Series(left)


def without_exchanges(plan: SwapPlan) -> SwapPlan:
    """The same railway, nothing moved."""
    return replace(plan, exchanges=0, across=0)
