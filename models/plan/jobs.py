"""Which piece of work renews which wear points, and what it takes: wear points and prices to jobs.

A job is one action on one component of a vehicle, at one position or over a whole matched set. Renewing a
part resets every quantity measured on it; turning or truing it resets its profile and clearances and takes
from its body (thickness, diameter), which only a new part gives back. A tire is turned while metal is left.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.futures.simulation import latest_prices

DEPTHS = ("in_place", "rods_down", "wheels_out")
"""How deep the machine is opened, each depth letting in the work of those before it."""
MACHINING = ("turn", "true", "trui", "cut", "skim", "machin", "grind", "ground", "reprofil")
"""Beginnings of words for taking metal off what stays in place."""
RENEWING = (
    "renew",
    "replac",
    "new",
    "rebuil",
    "rebush",
    "retire",
    "re-tire",
    "overhaul",
    "remetal",
    "rebabbitt",
)
"""Beginnings of words for a new or rebuilt part; the word ``new`` alone or at the start."""
FITTING = ("fit", "refit")
"""Beginnings of words for fitting a part that is there already."""
FITTED = ("spare ", " fitted")
"""How the action of a job begins and ends that fits a part of the spares rack."""
BODY = ("metal", "body")
"""Roles (``ingest.catalogue.role_of``) of what machining takes from, so that only a renewal restores it."""
TURNINGS = ("turnings_left", "turnings_next", "turnings_next_mean")
"""Columns that say how often a turning can be done."""
PROFILE = "profile"
"""Role of what a turning restores: a tire or wheel can be turned whether a price list knows it or not."""
TURNED = "cut"
"""The turning's name where no price list gives it one."""

JOB_COLUMNS = [
    "job", "vehicle", "component", "action", "position", "parts", "points", "access", "matched_set",
    "cost", "currency", "labor_hours", "days_out", "price_date", "quote", "machines", "turnings_left",
    "turnings_next", "turnings_next_mean",
]  # fmt: skip


@dataclass(frozen=True)
class Fitted:
    """A part of the spares rack, fitted in one window: it takes the place of a part with all that is measured
    on it.

    Attributes
    ----------
    part_no : its number. component : what it is called. position : the place.
    points : wear points that show the part there. depth : how deep it is opened for it, of ``DEPTHS``.
    window : row of the vehicle's windows, 0 the first.
    left : by wear point, quantiles of the miles left in it, shape (33,). [mi] Empty for one that has run
        nothing. miles_p05, miles_p50 : of the whole part. [mi]
    saves : what the plan costs less with it. [money]
    """

    part_no: str
    component: str
    position: str
    points: tuple[str, ...]
    depth: str
    window: int
    left: Mapping[str, NDArray[np.float64]]
    miles_p05: float
    miles_p50: float
    saves: float = 0.0


def jobs_of(points: pd.DataFrame, costs: pd.DataFrame | None) -> pd.DataFrame:
    """Jobs that the wear points can call for, with what each takes.

    Parameters
    ----------
    points : point, vehicle, component, position, role, access, matched_set; turnings_left, turnings_next and
        turnings_next_mean where they are known (``models.tires.outlook.with_turnings_left``).
    costs : table of the store: component, action, cost (for one part), currency, labor_hours, days_out,
        price_date.

    Returns
    -------
    One row a job, columns ``JOB_COLUMNS``: job (key), position (all of them, comma between), parts (how
    many), points (list, those that it renews), access (the deepest that its points need), cost [money],
    labor_hours [h], days_out [d] for all its parts, quote (row of ``latest_prices(costs)``, -1 without a
    price: then cost is NaN), machines (it takes metal off and leaves the part), turnings_left, turnings_next
    (how often it can be done before a renewal: to the part in service, to the next; NaN where nothing is
    known to bind it), turnings_next_mean (to the next on average). Each wear point is in at least one job.
    """
    quotes = latest_prices(costs)
    matched = _quote_component(points["component"], quotes)
    frame = points.reset_index(drop=True).assign(
        quote_component=matched, body=points["role"].isin(BODY).to_numpy()
    )
    place = ["vehicle", "component", "position"]
    sets = frame["matched_set"].replace("", None).groupby([frame[c] for c in place]).transform("first")
    frame["group"] = sets.fillna("").where(sets.notna(), "@" + frame["position"].astype(str))
    rows: list[dict[str, object]] = []
    for (vehicle, component, group), alike in frame.groupby(["vehicle", "component", "group"], sort=True):
        for action, quote, covered in _actions(alike, quotes):
            rows.append(_job(str(vehicle), str(component), str(group), action, quote, covered, quotes))
    return pd.DataFrame(rows, columns=JOB_COLUMNS)


def openings_of(costs: pd.DataFrame | None, practice: pd.DataFrame | None = None) -> pd.DataFrame:
    """What opening the machine to each depth takes: rows of costs whose component or action is a depth's
    name.

    Parameters
    ----------
    costs : table of the store.
    practice : what a depth without a price is weighed by, as ``ingest.catalogue.opening_practice`` has it.

    Returns
    -------
    Indexed by depth, all three: cost [money], labor_hours [h], days_out [d], the whole amount for that depth
    from nothing (not the step from the one before); 0 where costs has no row, column ``priced`` tells which.
    ``share_of_part``: what such a depth is weighed at, as a multiple of the price of a part; hours and days
    are then those of practice.
    """
    quotes = latest_prices(costs)
    words = [
        quotes[column].astype(str).str.strip().str.lower().str.replace(r"[\s-]+", "_", regex=True)
        for column in ("component", "action")
    ]
    depth = words[0].where(words[0].isin(DEPTHS), words[1])
    known = quotes.assign(depth=depth)[depth.isin(DEPTHS)].drop_duplicates("depth").set_index("depth")
    out = known.reindex(DEPTHS)[["cost", "labor_hours", "days_out"]].astype(float)
    priced = np.array([depth in known.index for depth in DEPTHS])
    share = np.zeros(len(DEPTHS))
    if practice is not None:
        usual = practice.set_index("depth").reindex(DEPTHS)
        share = np.where(priced, 0.0, usual["share_of_part"].fillna(0.0).to_numpy(float))
        for name in ("labor_hours", "days_out"):
            out[name] = out[name].where(priced, usual[name])
    return out.fillna(0.0).cummax().assign(priced=priced, share_of_part=share)


def is_spare(jobs: pd.DataFrame) -> NDArray[np.bool_]:
    """Which jobs fit a part of the rack."""
    if "spare" not in jobs:
        return np.zeros(len(jobs), bool)
    return np.asarray(jobs["spare"].fillna("") != "", dtype=bool)


def giving_back(jobs: pd.DataFrame) -> dict[int, int]:
    """By row of each turning that metal binds, the row of the job that gives the metal back."""
    out: dict[int, int] = {}
    for turning in np.flatnonzero(jobs["turnings_left"].notna()):
        covered = set(jobs["points"].iloc[turning])
        for row in np.flatnonzero(~jobs["machines"].astype(bool) & ~is_spare(jobs)):
            if covered <= set(jobs["points"].iloc[row]):
                out.setdefault(int(turning), int(row))
    return out


def fitting_jobs(jobs: pd.DataFrame, fitted: Sequence[Fitted], costs: pd.DataFrame | None) -> pd.DataFrame:
    """Jobs that fit parts of the rack, one a part.

    Parameters
    ----------
    jobs : as :func:`jobs_of` gives them, of one vehicle. fitted : what is fitted. costs : table of the store.

    Returns
    -------
    Columns of ``jobs`` with spare (number of the part), only_at (row of the window), assumed. A price list
    that names the fitting (``FITTING``) prices it; else it takes the hours and days of the longest renewal of
    one part there and none of its material. Assumption: common practice, no source.
    """
    quotes, rows = latest_prices(costs), []
    acts = quotes["action"].astype(str).str.strip().str.lower().str.startswith(FITTING)
    for each in fitted:
        touched = [bool(set(points) & set(each.points)) for points in jobs["points"]]
        there = jobs[np.array(touched, dtype=bool) & ~jobs["machines"].astype(bool)]
        row = dict.fromkeys(JOB_COLUMNS, np.nan) | {
            name: (there[name] / there["parts"]).max() for name in ("labor_hours", "days_out")
        }
        row |= {"cost": 0.0, "currency": "", "price_date": pd.NaT, "quote": -1}
        component = _quote_component(pd.Series([each.component]), quotes[acts])[0]
        own = quotes[acts & (quotes["component"] == component)]
        if len(own):
            row |= {name: own[name].iloc[0] for name in ("cost", "currency", "price_date")}
            row |= {name: _number(own[name].iloc[0]) for name in ("labor_hours", "days_out")}
            row["quote"] = int(own.index[0])
        vehicle, action = str(jobs["vehicle"].iloc[0]), each.part_no.join(FITTED)
        row |= {"job": f"{vehicle} | {each.component} | {each.position} | {action}", "vehicle": vehicle}
        row |= {"component": each.component, "position": each.position, "action": action, "parts": 1}
        row |= {"points": list(each.points), "access": each.depth, "matched_set": "", "machines": False}
        rows.append(row | {"spare": each.part_no, "only_at": each.window, "assumed": not len(own)})
    return pd.DataFrame(rows)


def with_fitted(jobs: pd.DataFrame, scope: pd.DataFrame) -> pd.DataFrame:
    """The jobs with those of a plan's lines, or of its jobs, that fit parts of the rack."""
    lines = scope[scope["action"].map(fits_a_spare).astype(bool)]
    if lines.empty:
        return jobs
    access = lines["access"] if "access" in lines else lines["depth"]
    # A row of the price list of that day may be another one today.
    own = lines.assign(access=access, machines=False, quote=-1, **dict.fromkeys(TURNINGS, np.nan))
    return pd.concat([jobs, own[JOB_COLUMNS]], ignore_index=True)


def fits_a_spare(action: object) -> bool:
    """Whether a line fits a part of the rack: nothing is ordered for it."""
    return str(action).startswith(FITTED[0]) and str(action).endswith(FITTED[1])


def kind_of_action(action: object) -> str:
    """``machined``, ``renewed`` or ``other``, from the words of an action."""
    words = str(action).strip().lower().replace("_", " ").split()
    if any(word.startswith(MACHINING) for word in words):
        return "machined"
    return "renewed" if any(word.startswith(RENEWING) for word in words) else "other"


def _quote_component(components: pd.Series, quotes: pd.DataFrame) -> list[str]:
    """Name of the component in costs that prices each point's component: the same, else the longest part of
    it."""
    names = sorted({str(name) for name in quotes["component"]}, key=lambda name: (-len(name), name))
    priced_by = {}
    for component in components.unique():
        text = str(component).strip().lower()
        same = [name for name in names if name.strip().lower() == text]
        priced_by[component] = next(iter(same or [n for n in names if n.strip().lower() in text]), "")
    return [priced_by[component] for component in components]


def _actions(alike: pd.DataFrame, quotes: pd.DataFrame) -> list[tuple[str, int, pd.DataFrame]]:
    """Actions on one place or set: name, row of its price, the points that it renews."""
    name = alike["quote_component"].iloc[0]
    priced = quotes[(quotes["component"] == name) & (name != "")]
    kinds = {int(i): kind_of_action(action) for i, action in priced["action"].items()}
    renew = [i for i, kind in kinds.items() if kind == "renewed"]
    machine = [i for i, kind in kinds.items() if kind == "machined"]
    can_be_turned = bool((alike["role"] == PROFILE).any())
    if not renew and not machine:
        renew = sorted(kinds)[:1]  # the only words for it are the railway's own
    restored = alike[~alike["body"]]
    out = [(str(quotes.loc[i, "action"]), i, restored) for i in machine[:1]]
    if not machine and can_be_turned:
        out.append((TURNED, -1, restored))
    if renew:
        out.append((str(quotes.loc[renew[0], "action"]), renew[0], alike))
    elif alike["body"].any() or not out:
        out.append(("renewed", -1, alike))
    return [(action, quote, covered) for action, quote, covered in out if len(covered)]


def _job(
    vehicle: str,
    component: str,
    group: str,
    action: str,
    quote: int,
    covered: pd.DataFrame,
    quotes: pd.DataFrame,
) -> dict[str, object]:
    positions = list(dict.fromkeys(covered["position"].astype(str)))
    row = quotes.loc[quote] if quote >= 0 else pd.Series(dtype=object)
    deepest = max(covered["access"], key=lambda depth: DEPTHS.index(depth) if depth in DEPTHS else 0)
    amounts = {name: _number(row.get(name)) * len(positions) for name in ("cost", "labor_hours", "days_out")}
    return {
        "job": f"{vehicle} | {component} | {group.removeprefix('@')} | {action}",
        "vehicle": vehicle,
        "component": component,
        "action": action,
        "position": ", ".join(positions),
        "parts": len(positions),
        "points": list(covered["point"]),
        "access": deepest if deepest in DEPTHS else DEPTHS[0],
        "matched_set": "" if group.startswith("@") else group,
        "currency": str(row.get("currency") or ""),
        "price_date": row.get("price_date", pd.NaT),
        "quote": quote,
        "machines": kind_of_action(action) == "machined",
        **{name: _turnings(name, action, covered) for name in TURNINGS},
        **amounts,
    }


def _turnings(name: str, action: str, covered: pd.DataFrame) -> float:
    """How often a machining can be done; of several tires the one with the least metal rules."""
    if kind_of_action(action) != "machined" or name not in covered:
        return float("nan")
    return float(covered[name].min())


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float | np.number) else float("nan")
