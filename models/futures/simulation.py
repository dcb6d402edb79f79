"""One joint simulation of what is ahead: miles run, wear reaching its limit, findings, prices.

Planner and fundraising case both read this object, so a scope, a risk and an amount of money always speak of
the same futures: draw i of one figure belongs to draw i of every other. Nothing here decides anything.

Within a family (component and quantity of a vehicle) the lives are joined by a Gaussian copula with one
common factor. Planned miles deviate month by month; the spread of logged seasons is one normal deviate a
vehicle and calendar year. Each name has its own stream of
random numbers, so a future does not change when wear points are added, left out or reordered.
"""

import zlib
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr

from ingest.errors import NotPossible
from models.distribution import miles_at, now_of
from models.futures.hidden_work import defect_share_draws
from models.futures.over_futures import (
    IN_FUTURES,
    PACE,
    future_of,
    next_life_scores,
    remaining_scores,
    share_futures,
)
from models.running.ahead import spreads_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Dates = NDArray[np.datetime64]

NEVER = 1e9
"""Miles that stand for a limit not reached within any horizon. [mi]"""
DAYS_PER_YEAR = 365.2425
MORE_COLUMNS = ("role", "turnings_left", "turnings_next", "turnings_next_mean", "scrap_of")
"""What machining does to a quantity (``ingest.catalogue.role_of``), and how often a tire can be turned: the
one in service, the next one, and the next one on average; the set whose scrap ends it."""
RUNNING_MONTH = 1.0
"""A month with fewer expected miles than this is not run. [mi]"""


@dataclass(frozen=True)
class Assumptions:
    """What the simulation takes as given, the railway's to change; the defaults are assumptions, no source.

    Attributes
    ----------
    draws : number of futures.
    seed : the same seed and data give the same futures, whatever the order or number of the wear points.
    family_correlation : correlation of the lives of one family (they were learned together). [1]
    inflation, inflation_sd : yearly rise of prices and its spread, one rate a future. [1/year]
    quote_sd : spread of a quotation around the listed price, as a share of it. [1]
    quote_correlation : correlation of the quotations of one future (a dear shop is dear in all). [1]
    """

    draws: int = 2000
    seed: int = 20260501
    family_correlation: float = 0.3
    inflation: float = 0.03
    inflation_sd: float = 0.01
    quote_sd: float = 0.15
    quote_correlation: float = 0.5


@dataclass(frozen=True)
class Simulation:
    """Draws of the futures; n draws, p wear points, v vehicles, t months, c components.

    Attributes
    ----------
    points : frame of p rows, the order of every array over wear points: point, vehicle, component, position,
        quantity, access, matched_set, vehicle_index; ``MORE_COLUMNS`` where they were given.
    vehicles : v names, the order of every array over vehicles.
    as_of : shape (v,). Date from which miles count, one a vehicle. datetime64[us]
    months : shape (t,). First day of each calendar month simulated. datetime64[us]
    miles : shape (n, v, t + 1). Miles from as-of to the start of each month and to the end of the last. [mi]
    remaining : shape (n, p). Miles from as-of at which the part now in service reaches its limit. [mi]
    next_life : shape (n, p, k). Miles from new to limit of the first, second, ... next part. [mi]
    inflation : shape (n,). Yearly rise of prices. [1/year]
    quotes : frame of the jobs that ``costs`` lists, one row a (component, action), the latest price of each.
    quote_factor : shape (n, rows of quotes). Quotation over listed price, mean 1. [1]
    components : c names; defect_share : shape (n, c). Share that the next tear-down finds defective. [1]
    """

    points: pd.DataFrame
    vehicles: tuple[str, ...]
    as_of: Dates
    months: Dates
    miles: Floats
    remaining: Floats
    next_life: Floats
    inflation: Floats
    quotes: pd.DataFrame
    quote_factor: Floats
    components: tuple[str, ...]
    defect_share: Floats
    assumptions: Assumptions = field(default_factory=Assumptions)

    @property
    def draws(self) -> int:
        """Number of futures."""
        return len(self.inflation)

    def month_index(self, date: pd.Timestamp) -> int:
        """Index of the month that holds the date, 0 before the first, t past the last."""
        day = pd.Timestamp(date).to_datetime64()
        return int(np.clip(np.searchsorted(self.months, day, side="right") - 1, 0, len(self.months)))

    def miles_at_start(self, month: Ints, vehicle: Ints) -> Floats:
        """Miles run by each vehicle up to the start of each month index, shape (n, len(month)). [mi]"""
        return self.miles[:, vehicle, month]


def simulate(
    points: pd.DataFrame,
    distribution: pd.DataFrame,
    usage: pd.DataFrame,
    *,
    findings: pd.DataFrame | None = None,
    costs: pd.DataFrame | None = None,
    as_of: pd.Series | None = None,
    next_lives: int = 3,
    assumptions: Assumptions | None = None,
) -> Simulation:
    """Draw futures of miles, wear, findings and prices together.

    Parameters
    ----------
    points : wear points of the store: point, vehicle, component, position, quantity, access, matched_set;
        ``MORE_COLUMNS`` are kept with them.
    distribution : frame of a forecast run: point, remaining, new_life (33 quantiles each), and what
        ``models.distribution.now_of`` reads. Wear points without a row cannot be forecast and are left out.
    usage : as ``models.running.ahead.usage_plan`` gives it; the months simulated are its months.
    findings, costs : tables of the store; without them no component and no quotation is drawn.
    as_of : date from which miles count, by vehicle; the start of the first month when not given.
    next_lives : how many next lives of each wear point are drawn. assumptions : see :class:`Assumptions`.

    Raises
    ------
    NotPossible : the usage ahead of a vehicle is not known; none of the wear points has a forecast.
    """
    assumed = assumptions or Assumptions()
    chosen = _forecast_points(points, distribution)
    vehicles = tuple(chosen["vehicle"].unique())
    months, miles = _miles(usage, vehicles, assumed)
    remaining, next_life = _all_lives(chosen, distribution, next_lives, assumed)
    quotes = latest_prices(costs)
    components, defect_share = _shares(findings, assumed)
    return Simulation(
        points=chosen,
        vehicles=vehicles,
        as_of=_as_of(as_of, vehicles, months),
        months=months,
        miles=miles,
        remaining=remaining,
        next_life=next_life,
        inflation=assumed.inflation + assumed.inflation_sd * _normal(assumed, "inflation"),
        quotes=quotes,
        quote_factor=_quote_factor(quotes, assumed),
        components=components,
        defect_share=defect_share,
        assumptions=assumed,
    )


def month_reached(simulation: Simulation, lives: Floats, from_month: Ints) -> Ints:
    """Index of the month in which lives that begin at the start of given months end.

    Parameters
    ----------
    simulation : the futures.
    lives : shape (n, p). Miles of each life, counted from the start of its month. [mi]
    from_month : shape (p,). Month at whose start each life begins.

    Returns
    -------
    Shape (n, p); t where the life does not end within the horizon. A month in which nothing is run ends no
    life, but for one of no miles at all, which has ended before it begins.
    """
    out = np.empty(lives.shape, dtype=np.int64)
    index = simulation.points["vehicle_index"].to_numpy()
    for v in range(len(simulation.vehicles)):
        rows = np.flatnonzero(index == v)
        if len(rows) == 0:
            continue
        run = simulation.miles[:, v, :]
        target = lives[:, rows] + run[:, from_month[rows]]
        # All draws on one axis: each draw's miles are lifted above those of the draw before it.
        lift = np.arange(len(run))[:, None] * (10 * NEVER)
        place = np.searchsorted((run + lift).ravel(), (target + lift).ravel(), side="left")
        month = place.reshape(target.shape) - np.arange(len(run))[:, None] * run.shape[1] - 1
        out[:, rows] = np.clip(np.maximum(month, from_month[rows]), 0, run.shape[1] - 1)
    return out


def latest_prices(costs: pd.DataFrame | None) -> pd.DataFrame:
    """Of each (component, action) the row with the latest price date, sorted by both."""
    columns = ["component", "action", "cost", "currency", "labor_hours", "days_out", "price_date"]
    if costs is None or len(costs) == 0:
        return pd.DataFrame({column: [] for column in columns})
    known = costs.reindex(columns=columns)
    # Of two prices of one day the dearer counts, whichever came first.
    known = known.sort_values(["price_date", "cost", "labor_hours", "days_out"], na_position="first")
    return known.drop_duplicates(["component", "action"], keep="last").sort_values(
        ["component", "action"], ignore_index=True
    )


def price_factor(simulation: Simulation, price_date: pd.Series, paid_on: pd.Timestamp) -> Floats:
    """Factor that carries listed prices to the day of payment in each future, shape (n, len(price_date)). [1]

    A price without a date counts as quoted on the first as-of date; prices are never carried back.
    """
    quoted = price_date.fillna(pd.Timestamp(simulation.as_of.min()))
    years = np.maximum((paid_on - quoted).dt.days.to_numpy(float) / DAYS_PER_YEAR, 0.0)
    return np.asarray((1.0 + simulation.inflation[:, None]) ** years[None, :], dtype=np.float64)


def _forecast_points(points: pd.DataFrame, distribution: pd.DataFrame) -> pd.DataFrame:
    known = points[points["point"].isin(distribution["point"])]
    if len(known) == 0:
        raise NotPossible(
            "Simulation: none of the wear points has a forecast. Expected at least one with a"
            " forecast; add readings and mileage, then make one: `milesleft forecast`."
        )
    columns = ["point", "vehicle", "component", "position", "quantity", "access", "matched_set"]
    columns += [name for name in MORE_COLUMNS if name in known]
    chosen = known.reindex(columns=columns).sort_values(["vehicle", "point"], ignore_index=True)
    chosen["access"] = chosen["access"].replace("", None).fillna("in_place")
    chosen[["matched_set", "position"]] = chosen[["matched_set", "position"]].fillna("")
    chosen["vehicle_index"] = pd.factorize(chosen["vehicle"])[0]
    return chosen


def quantile_matrix(lists: Iterable[object]) -> Floats:
    """Stored quantiles, a row a wear point, limits never reached as ``NEVER``. [mi]"""
    values = np.stack([np.asarray(row, dtype=np.float64) for row in lists])
    return np.minimum(np.nan_to_num(values, nan=NEVER, posinf=NEVER), NEVER)


def _normal(assumed: Assumptions, name: str) -> Floats:
    """Standard normal draws that depend on the seed and the name alone."""
    return np.random.default_rng([assumed.seed, zlib.crc32(name.encode())]).standard_normal(assumed.draws)


def _normals(assumed: Assumptions, names: Iterable[str]) -> Floats:
    distinct = list(dict.fromkeys(names))
    return (
        np.stack([_normal(assumed, name) for name in distinct]) if distinct else np.empty((0, assumed.draws))
    )


def _miles(usage: pd.DataFrame, vehicles: tuple[str, ...], assumed: Assumptions) -> tuple[Dates, Floats]:
    ahead = usage[usage["vehicle"].isin(vehicles)]
    missing = sorted(set(vehicles) - set(ahead.loc[ahead["miles"].notna(), "vehicle"]))
    if missing:
        raise NotPossible(
            f"Usage ahead of {', '.join(missing)}: neither planned miles nor a mileage log was found."
            " Expected one of them; add a usage table (vehicle, month, miles_planned) or the mileage log."
        )
    months, column = np.unique(ahead["month"].to_numpy().astype("datetime64[us]"), return_inverse=True)
    row = pd.Index(vehicles).get_indexer(pd.Index(ahead["vehicle"]))
    mean, sd, season_sd = np.zeros((3, len(vehicles), len(months)))
    mean[row, column] = ahead["miles"].fillna(0.0)
    sd[row, column], season_sd[row, column] = (np.nan_to_num(part) for part in spreads_of(ahead))
    years, year = np.unique(months.astype("datetime64[Y]"), return_inverse=True)
    season = np.stack([_normals(assumed, [f"season {name} {y}" for y in years]) for name in vehicles])
    names = [str(month)[:7] for month in months]
    own = np.stack([_normals(assumed, [f"miles {name} {m}" for m in names]) for name in vehicles])
    run = mean[:, :, None] + sd[:, :, None] * own + season_sd[:, :, None] * season[:, year, :]
    run = np.maximum(run, 0.0)
    total = np.concatenate([np.zeros((len(vehicles), 1, assumed.draws)), np.cumsum(run, axis=1)], axis=1)
    return months, np.ascontiguousarray(np.moveaxis(total, 2, 0))


def _all_lives(
    points: pd.DataFrame, distribution: pd.DataFrame, next_lives: int, assumed: Assumptions
) -> tuple[Floats, Floats]:
    """Draws of the lives in service, (n, p), and of the next ones, (n, p, next_lives)."""
    known = distribution.set_index("point").loc[points["point"]]
    shared = np.flatnonzero(share_futures(known))
    new = quantile_matrix(known["new_life"])
    scores = [_scores(points, what, assumed) for what in ("remaining", *_later_lives(next_lives))]
    if len(shared):
        given = np.stack([np.asarray(row, dtype=np.float64) for row in known[IN_FUTURES].iloc[shared]])
        pace = np.stack([np.asarray(row, dtype=np.float64) for row in known[PACE].iloc[shared]])
        given = given.reshape(*pace.shape, -1)
        vehicle = points["vehicle"].iloc[shared]
        future = future_of(_normals_of(assumed, "future " + vehicle), pace.shape[1])
        scores[0][shared] = remaining_scores(given, future, scores[0][shared])
        tail = (miles_at(new[shared], ndtr(np.array([-1.0, 1.0]))) + 1.0).T
        spread = 0.5 * np.log(tail[1] / tail[0])
        for later in scores[1:]:
            later[shared] = next_life_scores(pace, spread, future, later[shared])
    remaining = miles_at(quantile_matrix(known["remaining"]), ndtr(scores[0]), now_of(known)).T
    lives = [miles_at(new, ndtr(score)).T for score in scores[1:]]
    return remaining, np.stack(lives, axis=2) if lives else np.empty((*remaining.shape, 0))


def _later_lives(next_lives: int) -> list[str]:
    return [f"life {k + 1}" for k in range(next_lives)]


def _scores(points: pd.DataFrame, what: str, assumed: Assumptions) -> Floats:
    """Normal scores of one life of each wear point, (p, n): what the vehicle's futures leave open."""
    family = (points["vehicle"] + "|" + points["component"] + "|" + points["quantity"]).tolist()
    common = _normals_of(assumed, pd.Series(family) + f" {what}")
    own = np.stack([_normal(assumed, f"{name} {what}") for name in _one_fate(points)])
    share = assumed.family_correlation
    return np.asarray(np.sqrt(share) * common + np.sqrt(1 - share) * own)


def _normals_of(assumed: Assumptions, names: pd.Series) -> Floats:
    """Normals of each name, (len(names), n); equal names have the same."""
    distinct = list(dict.fromkeys(names))
    return np.asarray(_normals(assumed, distinct)[pd.Index(distinct).get_indexer(names)])


def _one_fate(points: pd.DataFrame) -> pd.Series:
    """Name of what each life ends with: tires of a set whose turnings are simulated end together."""
    if not {"role", "turnings_left"} <= set(points):
        return points["point"]
    together = (points["role"] == "metal") & points["turnings_left"].notna() & (points["matched_set"] != "")
    return points["point"].mask(together, points["vehicle"] + " " + points["matched_set"])


def _quote_factor(quotes: pd.DataFrame, assumed: Assumptions) -> Floats:
    if len(quotes) == 0:
        return np.empty((assumed.draws, 0))
    own = np.stack(
        [
            _normal(assumed, f"quote {c} {a}")
            for c, a in zip(quotes["component"], quotes["action"], strict=True)
        ]
    )
    share, sd = assumed.quote_correlation, np.sqrt(np.log1p(assumed.quote_sd**2))
    score = np.sqrt(share) * _normal(assumed, "shop") + np.sqrt(1 - share) * own
    return np.asarray(np.exp(sd * score - sd**2 / 2).T)


def _shares(findings: pd.DataFrame | None, assumed: Assumptions) -> tuple[tuple[str, ...], Floats]:
    """Components that were examined, and draws of what the next tear-down finds of each."""
    components = () if findings is None else tuple(sorted(findings["component"].dropna().unique()))
    if findings is None or not components:
        return (), np.empty((assumed.draws, 0))
    return components, defect_share_draws(findings, components, assumed.draws, assumed.seed)


def _as_of(as_of: pd.Series | None, vehicles: tuple[str, ...], months: Dates) -> Dates:
    if as_of is None:
        return np.full(len(vehicles), months[0])
    return as_of.reindex(list(vehicles)).to_numpy().astype("datetime64[us]")
