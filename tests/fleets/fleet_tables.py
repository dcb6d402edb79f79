"""A simulated fleet as the public tables, to go through the same door as a railway's own files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from fleets.simulate import Fleet
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOG_EVERY = 30  # days between two rows of the mileage log
MM_PER_INCH = 25.4
_QUANTITIES = ("tread hollow", "tire thickness", "lateral clearance", "journal diameter")
_COMPONENTS = ("driver", "driver", "axle box", "crank pin")


def fleet_tables(fleet: Fleet) -> dict[str, pd.DataFrame]:
    """Vehicles, wear points, mileage, readings and work of the fleet, and the truth beside them.

    One vehicle a family. Every second family's quantity shrinks as it wears; every third is in inches.
    The table ``truth`` has a row for each part in service: point, remaining_miles, mean_life.
    """
    n = len(fleet.families.limit)
    vehicle = np.array([f"V{f + 1:03d}" for f in range(n)])
    family = fleet.arrays["family"]
    point = np.array([f"V{f + 1:03d}-{p + 1:02d}" for f, p in zip(family, fleet.position, strict=True)])
    return {
        "vehicles": _vehicles(fleet, vehicle),
        "wear_points": _wear_points(fleet, point, vehicle),
        "mileage": _mileage(fleet, vehicle),
        "readings": _readings(fleet, point),
        "work": _work(fleet, point),
        "truth": _truth(fleet, point),
    }


def write_fleet(fleet: Fleet, folder: Path) -> None:
    """Write the tables as CSV files into a folder, the truth into its subfolder ``truth``."""
    tables = fleet_tables(fleet)
    truth = tables.pop("truth")
    (folder / "truth").mkdir(parents=True, exist_ok=True)
    for name, table in tables.items():
        table.to_csv(folder / f"{name}.csv", index=False)
    truth.to_csv(folder / "truth" / "truth.csv", index=False)


def _dates(days: Floats) -> pd.Series:
    """ISO dates of days since 1970-01-01."""
    return pd.Series(pd.to_datetime(np.floor(days), unit="D", origin="unix")).dt.strftime("%Y-%m-%d")


def _own_units(fleet: Fleet) -> tuple[Floats, Floats, Floats]:
    """Of each family: sign of wear, units per mm, value when new in mm (three limits where it shrinks, one
    where it grows: a reading near nothing would come out negative)."""
    f = np.arange(len(fleet.families.limit))
    sign = np.where(f % 2 == 0, 1.0, -1.0)
    per_mm = np.where(f % 3 == 0, 1 / MM_PER_INCH, 1.0)
    return sign, per_mm, np.where(sign > 0, 1.0, 3.0) * fleet.families.limit


def _vehicles(fleet: Fleet, vehicle: NDArray) -> pd.DataFrame:
    start = _dates(fleet.families.first_day)
    return pd.DataFrame(
        {"vehicle": vehicle, "name": "", "arrangement": "2-8-0", "class": "class " + pd.Series(vehicle)}
        | {"service_from": start}
    )


def _wear_points(fleet: Fleet, point: NDArray, vehicle: NDArray) -> pd.DataFrame:
    sign, per_mm, new = _own_units(fleet)
    once = fleet.number == 1
    f = fleet.arrays["family"][once]
    limit = new + sign * fleet.families.limit
    gauge_sd = fleet.arrays["gauge_sd"][once, 0] * per_mm[f]
    return pd.DataFrame(
        {
            "point": point[once],
            "vehicle": vehicle[f],
            "component": np.array(_COMPONENTS)[f % 4],
            "position": [f"{p // 2 + 1}{'LR'[p % 2]}" for p in fleet.position[once]],
            "quantity": np.array(_QUANTITIES)[f % 4],
            "unit": np.where(f % 3 == 0, "in", "mm"),
            "new_value": (new * per_mm)[f].round(7),
            "condemning_limit": (limit * per_mm)[f].round(7),
            "limit_source": "simulated",
            "gauge_sd": gauge_sd.round(7),
            "access": "in_place",
        }
    )


def _mileage(fleet: Fleet, vehicle: NDArray) -> pd.DataFrame:
    rows = []
    families = fleet.families
    for name, first, per_day, stop in zip(
        vehicle, families.first_day, families.miles_per_day, families.stop * families.mean_life, strict=True
    ):
        days = np.append(np.arange(0.0, np.round(stop / per_day), LOG_EVERY), np.round(stop / per_day))
        odometer = (days * per_day).round(1)
        rows.append(pd.DataFrame({"vehicle": name, "date": _dates(first + days), "odometer": odometer}))
    return pd.concat(rows, ignore_index=True).assign(unit="mi")


def _readings(fleet: Fleet, point: NDArray) -> pd.DataFrame:
    sign, per_mm, new = _own_units(fleet)
    miles, wear = fleet.arrays["miles"], fleet.arrays["wear"]
    life, column = np.nonzero(np.isfinite(wear))
    f = fleet.arrays["family"][life]
    value = (new[f] + sign[f] * wear[life, column]) * per_mm[f]
    return pd.DataFrame(
        {
            "point": point[life],
            "date": _dates(fleet.arrays["day"][life, column]),
            "value": value.round(6),
            "unit": np.where(f % 3 == 0, "in", "mm"),
            "odometer": (fleet.began[life] + miles[life, column]).round(1),
        }
    )


def _work(fleet: Fleet, point: NDArray) -> pd.DataFrame:
    """One renewal for each life that is not the first of its place."""
    later = fleet.number > 1
    family = fleet.arrays["family"][later]
    date = _dates(
        fleet.families.first_day[family] + fleet.began[later] / fleet.families.miles_per_day[family]
    )
    return pd.DataFrame({"point": point[later], "date": date, "action": "renewed"})


def _truth(fleet: Fleet, point: NDArray) -> pd.DataFrame:
    served = ~fleet.arrays["ended"]
    return pd.DataFrame(
        {
            "point": point[served],
            "remaining_miles": fleet.remaining[served],
            "mean_life": fleet.mean_life[served],
            "readings": np.isfinite(fleet.arrays["wear"]).sum(axis=1)[served],
        }
    )
