"""Simulated engines as normalised tables and lives, without a store."""

from functools import cache

import numpy as np
import pandas as pd
from fleets.engine_seasons import EnginePlan, Engines, simulate_engines

from models.lives.build import build_lives
from models.lives.table import LifeTable

NO_USAGE = pd.DataFrame({"vehicle": [], "month": [], "miles_planned": [], "miles_sd": []})


def normalised(engines: Engines) -> dict[str, pd.DataFrame]:
    """The public tables as the store would give them: days, base units, every column."""
    public = engines.tables
    days = {
        name: public[name].assign(date=pd.to_datetime(public[name]["date"]).astype("datetime64[us]"))
        for name in ("mileage", "readings", "work")
    }
    points = public["wear_points"].assign(
        base_unit="mm", per_base=1.0, shop_limit=np.nan, gauge_sd=np.nan, condemned_when=""
    )
    readings = days["readings"]
    return {
        "vehicles": public["vehicles"],
        "wear_points": points,
        "mileage": days["mileage"],
        "readings": readings.assign(odometer_sd=0.0, row_id=np.arange(len(readings))),
        "work": days["work"].assign(value_before=np.nan, value_after=np.nan),
        "usage": NO_USAGE,
    }


@cache
def simulated(seed: int, plan: EnginePlan) -> tuple[Engines, dict[str, pd.DataFrame]]:
    """Engines and their normalised tables."""
    engines = simulate_engines(np.random.default_rng(seed), plan)
    return engines, normalised(engines)


def lives_of(seed: int, plan: EnginePlan) -> tuple[dict[str, pd.DataFrame], LifeTable]:
    """The tables and the lives in them."""
    _, tables = simulated(seed, plan)
    return tables, build_lives(tables)
