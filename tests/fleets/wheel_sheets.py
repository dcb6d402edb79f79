"""Sheets of a small railway whose wheels are turned: solid or tired, in inches or mm, with prices or without,
with recorded turnings or without. What the wheels do is drawn by a seed."""

from pathlib import Path

import numpy as np
import pandas as pd

DAY = pd.Timestamp("2026-10-31")
SEASON = 3600.0
SEASONS = 8
INCH = 25.4
SETS = {"drivers": ("driver", 4), "truck": ("trailing truck", 2)}
TURNED_AFTER = 4
"""Season in whose winter every set was turned."""


def write_wheels(folder: Path, seed: int, *, solid: bool, priced: bool, recorded: bool, inches: bool) -> None:
    """Vehicles, mileage, usage, wear points, readings, work and costs of one engine with two sets."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True)
    per, unit = (1 / INCH, "in") if inches else (1.0, "mm")
    days = pd.date_range(DAY - pd.DateOffset(years=SEASONS), DAY, freq="ME")
    run = np.where((days.month >= 5) & (days.month <= 10), SEASON / 6, 0.0)
    log = pd.DataFrame({"vehicle": "Alder", "date": days, "odometer": 10_000 + run.cumsum(), "unit": "mi"})
    months = pd.date_range("2026-11-01", "2040-12-01", freq="MS")
    ahead = np.where(months.month.isin(range(5, 11)), SEASON / 6, 0.0)
    tables = {
        "vehicles": pd.DataFrame({"vehicle": ["Alder"], "name": "", "arrangement": "4-4-2", "class": "K"}),
        "mileage": log.assign(service_days=np.where(run > 0, 10, 0)),
        "usage": pd.DataFrame(
            {"vehicle": "Alder", "month": months, "miles_planned": ahead, "miles_sd": 0.1 * ahead}
        ),
        "costs": _costs(solid, priced),
    }
    points, readings, work = [], [], []
    for name, (group, wheels) in SETS.items():
        place = [f"{group} {w // 2 + 1} {('left', 'right')[w % 2]}" for w in range(wheels)]
        rows = _wheels(rng, place, f"Alder {name}", solid, recorded)
        points += rows[0]
        readings += rows[1]
        work += rows[2]
    names = ["point", "component", "position", "quantity", "new_value", "condemning_limit", "matched_set"]
    table = pd.DataFrame(points, columns=names)
    table[["new_value", "condemning_limit"]] *= per
    tables["wear_points"] = table.assign(
        vehicle="Alder", unit=unit, access="wheels_out", gauge_sd=0.2 * per, limit_source="own rule"
    )
    read = pd.DataFrame(readings, columns=["point", "date", "value"])
    tables["readings"] = read.assign(value=(read["value"] * per).round(4), unit=unit)
    done = pd.DataFrame(work, columns=["point", "date", "action", "value_before", "value_after"])
    done[["value_before", "value_after"]] = (done[["value_before", "value_after"]] * per).round(4)
    tables["work"] = done.assign(unit=unit)
    for name, frame in tables.items():
        if len(frame):
            frame.to_csv(folder / f"{name}.csv", index=False)


def _costs(solid: bool, priced: bool) -> pd.DataFrame:
    rows = [("wheels_out", "open", 20_000, 400, 30)]
    names = ["driver wheel", "trailing truck wheel"] if solid else ["driver tire", "trailing truck tire"]
    for name in names if priced else []:
        rows += [(name, "cut", 700, 10, 2), (name, "renewed", 4000, 24, 5)]
    columns = ["component", "action", "cost", "labor_hours", "days_out"]
    return pd.DataFrame(rows, columns=columns).assign(currency="USD", price_date="2026-03-31")


def _wheels(
    rng: np.random.Generator, places: list[str], matched: str, solid: bool, recorded: bool
) -> tuple[list, list, list]:
    """Wear points, readings and work rows of one set, lengths in mm."""
    kind = "wheel" if solid else "tire"
    thick = "rim thickness" if solid else "thickness"
    limit, new = 25.4, 65.0
    start = rng.uniform(28.0, 50.0) + (12.0 if recorded else 0.0)
    flange_rate = rng.uniform(0.6, 1.4, len(places)) * rng.uniform(4e-5, 1.5e-4)
    thick_rate = rng.uniform(0.8, 1.2, len(places)) * rng.uniform(3e-5, 1.2e-4)
    thickness, lost = start + rng.uniform(0.0, 0.6, len(places)), rng.uniform(0.3, 1.5, len(places))
    points, readings, work = [], [], []
    for w, place in enumerate(places):
        group = place.rsplit(" ", 2)[0]
        for code, quantity, fresh, condemned in (
            ("T", thick, new, limit),
            ("F", "flange thickness", 32.0, 24.0),
        ):
            name = f"{group}-{w}-{code}"
            points.append((name, f"{group} {kind}", place, quantity, fresh, condemned, matched))
    for season in range(1, SEASONS + 1):
        thickness = thickness - thick_rate * SEASON
        lost = np.minimum(lost + flange_rate * SEASON, 7.5)
        day = f"{DAY.year - SEASONS + season}-10-31"
        for w, place in enumerate(places):
            group = place.rsplit(" ", 2)[0]
            for code, value in (("T", thickness[w]), ("F", 32.0 - lost[w])):
                readings.append((f"{group}-{w}-{code}", day, value + 0.1 * rng.standard_normal()))
        if recorded and season == TURNED_AFTER:
            left = (thickness - 1.5 - 0.9 * lost).min()
            for w, place in enumerate(places):
                name, turned_on = f"{place.rsplit(' ', 2)[0]}-{w}", f"{int(day[:4]) + 1}-02-15"
                work.append((f"{name}-T", turned_on, "cut", thickness[w], left))
                work.append((f"{name}-F", turned_on, "renewed", 32.0 - lost[w], 32.0))
            thickness, lost = np.full(len(places), left), np.zeros(len(places))
    return points, readings, work
