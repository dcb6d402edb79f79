"""Tires and wheels of a vehicle: what a turning takes by the railway's own record, and what turnings leave.

Plan, ``tires``, brief and pages all come here, so that they say the same of every matched set.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from dashboard.services.engine_facts import catalogues, stated_in
from dashboard.services.shop_checks import (
    YEARS_AHEAD,
    Tables,
    ahead_of,
    as_of_dates,
    miles_at,
    of_one_vehicle,
)
from ingest import catalogue
from ingest.errors import NotPossible
from ingest.store import Store
from models.running.ahead import usage_plan
from models.running.windows import lay_ups, vehicles_lying_open
from models.tires.learned import recorded_turnings, with_record
from models.tires.outlook import PATHS, compare_policies
from models.tires.states import TireStates, TurningAssumptions, tire_states

Floats = NDArray[np.float64]
TABLES = ("vehicles", "wear_points", "mileage", "usage", "work", "facts", "openings")
"""Of the store, read for turnings."""


@dataclass(frozen=True)
class Tires:
    """Tires of one vehicle.

    Attributes
    ----------
    states : filtered wear of every tire.
    taken : assumptions of a turning with what the record puts in their place
        (``models.tires.learned.with_record``).
    lay_ups : miles from as-of to the opening of every lay-up ahead, increasing. [mi]
    """

    vehicle: str
    states: TireStates
    taken: pd.DataFrame
    lay_ups: Floats

    @property
    def assumptions(self) -> TurningAssumptions:
        """The same as the simulation takes them."""
        return TurningAssumptions.of(self.taken)


def record_of(tables: Tables) -> pd.DataFrame:
    """Turnings on record, those of all vehicles: they share a shop and its lathe."""
    return recorded_turnings(tables["work"], catalogue.classify(tables["wear_points"]))


def tires_of(
    tables: Tables,
    store: Store,
    run: str,
    vehicle: str,
    record: pd.DataFrame,
    own: pd.DataFrame | None = None,
) -> Tires:
    """Tires of one vehicle in a forecast run.

    Parameters
    ----------
    tables : vehicles, wear_points, mileage, usage, facts as they were for the run; the facts decide which
        rules govern the vehicle.
    record : as :func:`record_of` gives it.
    own : the railway's own assumptions, as ``ingest.catalogue.assumptions`` takes them: no record moves them.

    Raises
    ------
    NotPossible : the vehicle is not known, has no log, or none of its tires can be simulated.
    """
    points = of_one_vehicle(tables["wear_points"], vehicle)
    taken, usual = assumed_of(tables, vehicle, own), assumed_of(tables, vehicle)
    stated = taken.loc[taken["source"] != usual["source"], "assumption"].tolist()
    states = _states(points, store, run)
    return Tires(vehicle, states, with_record(taken, record, stated), lay_up_miles(tables, vehicle))


def assumed_of(tables: Tables, vehicle: str, own: pd.DataFrame | None = None) -> pd.DataFrame:
    """What a turning of a vehicle's tires is assumed to take, without the record: of the railway itself where
    it states it, of the rules that govern the vehicle where they do, else of the catalogue.

    Parameters as :func:`tires_of`; ``ingest.catalogue.assumptions`` gives the columns.
    """
    about = {name: tables[name] for name in ("wear_points", "facts") if name in tables}
    law = catalogues({**about, "vehicles": tables["vehicles"]})[vehicle]
    ruled = catalogue.ruled_assumptions(law.limit_set, stated_in(about).of(vehicle))
    classes = tables["vehicles"].get("class", pd.Series("", tables["vehicles"].index))
    of_vehicle = dict(zip(tables["vehicles"]["vehicle"], classes, strict=True)).get(vehicle, "")
    return catalogue.assumptions("turning", str(of_vehicle or ""), own, ruled)


def tires_of_all(tables: Tables, store: Store, run: str, vehicles: Sequence[str]) -> tuple[Tires, ...]:
    """Tires of the vehicles of which any can be simulated; the forecast of the others stands."""
    record = record_of(tables)
    parts = []
    for vehicle in vehicles:
        try:
            parts.append(tires_of(tables, store, run, vehicle, record))
        except NotPossible:
            continue
    return tuple(parts)


def tires_ahead(
    tables: Tables,
    store: Store,
    run: str,
    vehicle: str,
    own: pd.DataFrame | None = None,
    *,
    paths: int = PATHS,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Turning policies of one vehicle's tires compared, and the assumptions behind them. Raises as
    :func:`tires_of`."""
    tires = tires_of(tables, store, run, vehicle, record_of(tables), own)
    distribution = store.read_run(run, "distribution", list(tires.states.tires["metal"]))
    table = compare_policies(tires.states, tires.assumptions, tires.lay_ups, distribution, paths=paths)
    return table, tires.taken


def _states(points: pd.DataFrame, store: Store, run: str) -> TireStates:
    """Tires of a forecast run, with the rates that their families teach for the next profile."""
    family = store.read_run(run, "family")
    rate = family["rate_per_1000_mi"] / 1000.0
    taught = pd.DataFrame({"family": family["family"], "mean_rate": rate, "rate_sd": rate * family["spread"]})
    return tire_states(catalogue.classify(points), store.read_run(run, "state"), taught)


def lay_up_miles(tables: Tables, vehicle: str) -> Floats:
    """Miles from as-of to the opening of every lay-up ahead, increasing."""
    as_of = as_of_dates(tables, [vehicle])
    if as_of.empty:
        raise NotPossible(f"Vehicle {vehicle!r} has no mileage log. Add one first: 'milesleft add FILE'.")
    plan = usage_plan(tables["usage"], tables["mileage"], as_of, 12 * YEARS_AHEAD)
    open_now = vehicles_lying_open(tables["openings"], as_of)
    opens = list(lay_ups(plan, as_of, lying_open=open_now)["opens"])
    return np.unique(miles_at(ahead_of(tables, as_of), 0, opens)) if opens else np.array([])
