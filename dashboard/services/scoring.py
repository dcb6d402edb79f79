"""From the store to a score and back: the track record of every forecaster on this railway's own readings."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from dashboard.services.one_run import TABLES, Task, task_of, worked_then
from dashboard.services.sources import sources_of
from ingest.errors import NotPossible
from ingest.store import Store
from models.checks.opened import SOURCE, Opening, as_found, told_in
from models.combined.combine import RIVAL
from models.combined.weights import Evidence
from models.forecast.worked import Worked
from models.gauges.read_twice import repeatability
from models.lives.build import build_lives
from models.lives.table import LifeTable
from models.rivals import STRAIGHT_LINE, all_rivals
from models.score.rolling import Asked, Score, Told, evidence_until, outcomes_of, score_of, stretch_until
from models.score.told_then import AsForecast, origin_of
from models.score.track_record import choose_origins
from models.wear.estimator import Forecaster

OWN = "milesleft"
ALONE = "wear model alone"
MOST_FAMILIES, MOST_LIVES = 40, 100
"""What the two slow rivals attempt of each past day, evenly spaced: half a minute or so for a large fleet."""


OPENING_COLUMNS = [
    "opening",
    "vehicle",
    "since",
    "point",
    "component",
    "quantity",
    "unit",
    "found",
    "p10",
    "p50",
    "p90",
    "held",
]
BAND = np.array([0.1, 0.5, 0.9])


def run_score(store: Store, origins: int = 5, *, slow: bool = True, openings: int | None = None) -> str:
    """Score the forecast and its rivals on the past readings of the store; keep a run of kind ``score``.

    On each past day the forecast is made from what was known on it, by the very function that makes today's.

    Parameters
    ----------
    origins : number of past days.
    slow : with the mixed model and the Gaussian process.
    openings : last openings held against the forecast of the day before; as many as past days if None.

    Returns
    -------
    The run's id; its frames are ``overall``, ``by_family``, ``by_quantity``, ``pit``, ``recalibration``,
    ``openings`` and ``weights``.

    Raises
    ------
    NotPossible : the store holds no past day with readings before and after it.
    """
    version = store.version()
    tables = store.read_for_models(*TABLES, version=version)
    whole = build_lives(tables)
    days = choose_origins(whole.lives, origins)
    told = _days_told(store, version, days, whole, tables["readings"], slow=slow)
    score = score_of(told, whole.scale.quantity, days, own=OWN, reference=STRAIGHT_LINE)
    if score.overall.empty:
        raise NotPossible(
            f"{store.path}: nothing in it was read after a day that could have been forecast from. A score "
            "needs what was read on two different days at least. Add more readings with 'milesleft add'."
        )
    about = {
        "data_version": version,
        "as_of": _last_day(whole),
        "origins": [str(day) for day in pd.to_datetime(score.origins, unit="D", origin="unix").date],
        "own": OWN,
        "reference": STRAIGHT_LINE,
        "forecasters": score.overall["forecaster"].unique().tolist(),
    }
    found = found_against(store, version, origins if openings is None else openings)
    record = _record(told, np.inf, whole) or {}
    weights = pd.DataFrame(
        {
            "quantity": list(record),
            "lives": [piece.lives for piece in record.values()],
            "loss": [piece.loss for piece in record.values()],
        }
    )
    frames = {**_frames(score, whole), "openings": found, "weights": weights}
    return store.save_run("score", about, frames)


def _days_told(
    store: Store,
    version: int,
    days: NDArray[np.float64],
    whole: LifeTable,
    readings: pd.DataFrame,
    *,
    slow: bool,
) -> list[Told]:
    """What was said on each past day and what came. Each day knows the stretch that earlier days taught."""
    told: list[Told] = []
    quantity, names = whole.scale.quantity, whole.scale.family_name
    rivals = _rivals(slow)
    for number in days:
        day = pd.Timestamp(int(number), unit="D")
        stretch = stretch_until(told, float(number), OWN, quantity)
        task = Task(
            day,
            stretch=pd.Series(stretch, index=names),
            sources=sources_of(store, version, day),
            record=_record(told, float(number), whole),
            repeats=repeatability(store.read_blind(version, day)),
        )
        tables = store.read_for_models(*TABLES, version=version, until=day)
        worked = worked_then(tables, task)
        if worked is None:
            continue
        ids = (frame["row_id"].to_numpy(np.int64) for frame in (tables["readings"], readings))
        origin = origin_of(worked, next(ids), whole, next(ids), day)
        said: dict[str, Asked] = {OWN: AsForecast(worked), ALONE: AsForecast(worked, alone=True)}
        said |= {name: f.fit(origin.lives, quantity) for name, f in rivals.items()}
        told.append(outcomes_of(origin, said, stretch))
    return told


def _record(told: list[Told], day: float, whole: LifeTable) -> dict[str, Evidence] | None:
    """What came true up to a day of the wear model and its rival together, by quantity."""
    found = evidence_until(told, day, whole.scale.quantity, wear=ALONE, rival=RIVAL)
    return None if found is None else dict(zip(_quantities(whole), found, strict=True))


def _quantities(table: LifeTable) -> list[str]:
    """Names of the quantities, by their number."""
    _, first = np.unique(table.scale.quantity, return_index=True)
    return [str(name) for name in table.scale.quantity_name[first]]


def _rivals(slow: bool) -> dict[str, Forecaster]:
    rivals = all_rivals(most_families=MOST_FAMILIES, most_lives=MOST_LIVES)
    return rivals if slow else {k: rivals[k] for k in ("last two readings", STRAIGHT_LINE)}


def _last_day(table: LifeTable) -> str:
    days = table.as_of_day[np.isfinite(table.as_of_day)]
    return str(pd.Timestamp(days.max(), unit="D").date()) if len(days) else ""


def _frames(score: Score, table: LifeTable) -> dict[str, pd.DataFrame]:
    """The frames with families and quantities by their names."""
    names = pd.Series(table.scale.family_name).astype(str)
    quantities = pd.Series(_quantities(table))

    def named(frame: pd.DataFrame) -> pd.DataFrame:
        family = frame["family"].map(names).fillna("all")
        return frame.assign(family=family)

    return {
        "overall": score.overall,
        "by_family": named(score.by_family),
        "by_quantity": score.by_quantity.assign(quantity=score.by_quantity["quantity"].map(quantities)),
        "pit": named(score.pit),
        "recalibration": named(score.factors),
    }


def found_against(store: Store, version: int, most: int) -> pd.DataFrame:
    """As found against forecast, for the last openings of the store.

    Parameters
    ----------
    most : so many openings, the last ones; each is a forecast of the day before it.

    Returns
    -------
    ``OPENING_COLUMNS``: opening, vehicle, since (first day), point, component, quantity, unit, found and the
    quantiles forecast for such a reading [own unit], held (the 80 % range held it). Points that were not
    forecast that day are left out.
    """
    openings = store.read("openings", version=version)
    last = openings.sort_values(["since", "opening"], kind="stable").tail(most)
    parts = [pd.DataFrame(columns=OPENING_COLUMNS)]
    for opening in last.to_dict("records"):
        found = found_at(store, opening, version)
        told = found[found["p50"].notna()].astype({"held": bool})
        parts.append(told[OPENING_COLUMNS])
    return pd.concat([p for p in parts if not p.empty] or parts, ignore_index=True)[OPENING_COLUMNS]


def found_at(store: Store, opening: Opening, version: int | None = None) -> pd.DataFrame:
    """What one opening found, beside the forecast of the day before it.

    Parameters
    ----------
    opening : row of the table: opening, vehicle, since, until.

    Returns
    -------
    ``OPENING_COLUMNS``, position, date and where each was read; one row a wear point, worst against its
    forecast first. The quantiles are missing, and ``held`` empty, where nothing was forecast that day.
    """
    with store.at_once() as reading:
        number = reading.version() if version is None else version
        tables = reading.read_all("readings", "work", "wear_points", version=number)
    points = tables["wear_points"]
    told = told_in(tables["readings"], tables["work"], points, opening)
    found = as_found(told).drop(columns=["state", "kind"])
    rows = found.merge(points[["point", "component", "position", "quantity", "unit", "per_base"]], on="point")
    said = _said_before(store, opening, found.set_index("point")["odometer"], number)
    rows = rows.assign(found=rows["value"] * rows["per_base"]).merge(said, on="point", how="left")
    rows = rows.assign(**{name: opening[name] for name in ("opening", "vehicle", "since")})
    held = (rows["p10"] <= rows["found"]) & (rows["found"] <= rows["p90"])
    rows["held"] = held.astype(object).where(rows["p50"].notna(), None)
    off = (rows["found"] - rows["p50"]).abs() / (rows["p90"] - rows["p10"])
    order = rows.assign(off=off.fillna(-1.0)).sort_values(["off", "point"], ascending=[False, True])
    return order[[*OPENING_COLUMNS, "position", "date", *SOURCE]].reset_index(drop=True)


def _said_before(store: Store, opening: Opening, odometer: pd.Series, version: int) -> pd.DataFrame:
    """Quantiles of readings of an opening by the forecast of the day before it: point, p10, p50, p90."""
    nothing = pd.DataFrame({"point": [], "p10": [], "p50": [], "p90": []}).astype({"point": object})
    if odometer.empty:
        return nothing
    day = pd.Timestamp(opening["since"]) - pd.Timedelta(days=1)
    tables = store.read_for_models(*TABLES, version=version, until=day)
    worked = worked_then(tables, task_of(store, day, version))
    return nothing if worked is None else _said(worked, tables["wear_points"], odometer)


def _said(worked: Worked, points: pd.DataFrame, odometer: pd.Series) -> pd.DataFrame:
    """Quantiles of a reading of each point at an odometer, in its own unit."""
    table, fitted = worked.table, worked.point < len(points)  # after them come parts on the spares rack
    point, life = worked.point[fitted], worked.life[fitted]
    names = points["point"].to_numpy()[point]
    at = odometer.reindex(names).to_numpy(float) - table.began_odometer[life]
    # What the work book measured has no odometer: the engine has not run since.
    miles = np.fmax(at, table.lives.as_of_miles[life])[:, None]
    asked = np.full((len(fitted), 1), np.nan)
    asked[fitted] = miles
    wear = worked.readings_ahead(asked, BAND)[fitted, 0] + table.cut_now[life][:, None]
    own = table.scale.new[point][:, None] + table.scale.sign[point][:, None] * wear
    own = np.sort(own * points["per_base"].to_numpy(float)[point][:, None], axis=1)
    said = pd.DataFrame(own, columns=["p10", "p50", "p90"]).assign(point=names)
    return said.dropna(ignore_index=True)
