"""Limits held against the law: laxer ones, sets that were mixed, the bound on the side away from the wear."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol, Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from models.checks.findings_frame import COLUMNS, CONDEMNED, LAXER, PAST, SAME, UNTOLD, beyond
from models.checks.measured import Bools, Floats, Groups, Ints, Texts, numbered

BOTH_SIDES = ("back to back", "over flanges")
"""Measures that do not wear toward a limit: a check of their own holds them to both bounds."""


@dataclass(frozen=True)
class _Held:
    """Wear points of which the law speaks, beside what it says: arrays of one length.

    ``points`` : their rows in the table that was given. The others as ``ingest.catalogue.law_limits_of``
    gives them, in base unit.
    """

    points: pd.DataFrame
    bound: Texts
    law_limit: Floats
    law_laxest: Floats
    law_condemned_when: Texts
    law_source: Texts
    law_unstated: Texts

    @classmethod
    def of(cls, wear_points: pd.DataFrame, law: pd.DataFrame) -> Self:
        """In the order of the wear points, without what wears toward no limit."""
        law_row = pd.Index(law["point"]).get_indexer(wear_points["point"])
        by_law = np.append((law["law_tier"] == "law").to_numpy(bool), False)[law_row]
        kept = np.flatnonzero(by_law & ~wear_points["measure"].isin(BOTH_SIDES).to_numpy())
        columns = {
            name: law[name].to_numpy(float if name in ("law_limit", "law_laxest") else object)[law_row[kept]]
            for name in (
                "bound",
                "law_limit",
                "law_laxest",
                "law_condemned_when",
                "law_source",
                "law_unstated",
            )
        }
        return cls(wear_points.iloc[kept], **columns)

    def texts(self, name: str) -> Texts:
        """A column of the points, of words."""
        return self.points[name].to_numpy(object)

    def numbers(self, name: str) -> Floats:
        """A column of the points, of numbers."""
        return self.points[name].to_numpy(float)


def lax_limits(wear_points: pd.DataFrame, law: pd.DataFrame) -> pd.DataFrame:
    """Wear points whose own limit is laxer than the law's, or which have none where the law has one.

    Parameters
    ----------
    wear_points : point, vehicle, position, measure, condemning_limit [base unit], condemned_when, base_unit.
    law : point, bound, law_limit, law_laxest [base unit], law_condemned_when, law_source, law_tier,
        law_unstated.

    Returns
    -------
    Findings; ``found`` is the sheet's limit, ``limit`` the law's. Where the law's limit depends on facts not
    stated, a limit between the laxest and the strictest row cannot be told, and ``remedy`` names the facts.
    """
    held = _Held.of(wear_points, law)
    own = held.numbers("condemning_limit")
    surely, maybe = (_laxer(held, own, limit) for limit in (held.law_laxest, held.law_limit))
    missing = np.isnan(own) & ~np.isnan(held.law_limit)
    return pd.concat(
        [_of_points(held, own, surely, missing), _of_facts(held, own, maybe & ~surely & ~missing)]
    )


def _laxer(held: _Held, own: Floats, limit: Floats) -> Bools:
    """Whether the law's limit is reached before the sheet's: wear between the two would be called fit."""
    laxer = np.where(held.bound == "max", own - limit, limit - own) > SAME
    condemned_sooner = (held.law_condemned_when == "at") & (held.texts("condemned_when") == "beyond")
    return np.asarray(laxer | ((np.abs(own - limit) <= SAME) & condemned_sooner), dtype=np.bool_)


def _of_points(held: _Held, own: Floats, laxer: Bools, missing: Bools) -> pd.DataFrame:
    limit = np.where(missing, held.law_limit, held.law_laxest)
    words = np.select(
        [missing, np.abs(own - limit) <= SAME],
        [
            "the sheet has no limit",
            "the same figure, but the law condemns a part that is at it, the sheet only one beyond it",
        ],
        "the sheet's limit is laxer",
    )
    rows = _together(held, np.flatnonzero(laxer | missing), own, limit, words)
    return _findings(
        rows,
        check="limit against the law",
        verdict=np.where(np.isnan(rows["found"]), UNTOLD, LAXER),
        remedy="Put the law's limit, or a stricter one, into the sheet and load it again.",
    )


def _of_facts(held: _Held, own: Floats, which: Bools) -> pd.DataFrame:
    words = np.full(len(own), "the sheet's limit is laxer than the strictest row that may hold")
    rows = _together(held, np.flatnonzero(which), own, held.law_limit, words)
    return _findings(
        rows,
        check="limit against the law",
        verdict=UNTOLD,
        remedy="State " + rows["unstated"] + ": the law's limit depends on it.",
    )


def _together(held: _Held, rows: Ints, own: Floats, limit: Floats, words: NDArray) -> dict[str, NDArray]:
    """One row for all points of a vehicle with one limit and one rule, not one a wheel."""
    columns: dict[str, NDArray] = {
        "vehicle": held.texts("vehicle"),
        "bound": held.bound,
        "base_unit": held.texts("base_unit"),
        "limit": limit,
        "source": held.law_source,
        "unstated": held.law_unstated,
        "found": own,
        "detail": words,
    }
    columns = {name: column[rows] for name, column in columns.items()}
    groups = Groups.of(pd.factorize(numbered(*columns.values()))[0])  # in the order of their first points
    position = groups.joined(held.texts("position")[rows])
    return {
        **{name: column[groups.first] for name, column in columns.items()},
        "points": groups.joined(held.texts("point")[rows]),
        "position": np.where(groups.size > 1, "", position),
    }


def past_the_law(values: pd.DataFrame, law: pd.DataFrame, *, other_bound: bool = False) -> pd.DataFrame:
    """Readings past the law's limit, whatever the sheet's own limit is.

    Parameters
    ----------
    values : wear points with value and date of the last reading.
    law : as ``ingest.catalogue.law_limits_of`` gives it.
    other_bound : it is the bound on the side away from the wear: a flange too low, wheels too far apart.

    Returns
    -------
    Findings of the points past it. Where the limit depends on facts not stated, a value past the strictest
    row that may hold is past its limit, one past the laxest row is condemned whatever they are.
    """
    held = _Held.of(values, law)
    value = held.numbers("value")
    past = np.flatnonzero(beyond(value, held.law_limit, held.bound, held.law_condemned_when))
    surely = beyond(value, held.law_laxest, held.bound, held.law_condemned_when)[past]
    unstated, named = held.law_unstated[past], held.texts("part")[past] + ", " + held.texts("measure")[past]
    depends = [
        f"; depends on {facts}, not stated: the strictest row is taken" if facts else "" for facts in unstated
    ]
    limit = np.where(surely, held.law_laxest[past], held.law_limit[past])
    rows = {
        "vehicle": held.texts("vehicle")[past],
        "position": held.texts("position")[past],
        "points": held.texts("point")[past],
        "found": value[past],
        "limit": limit,
        "bound": held.bound[past],
        "base_unit": held.texts("base_unit")[past],
        "source": held.law_source[past],
        "date": held.points["date"].to_numpy()[past],
    }
    return _findings(
        rows,
        check="other bound of the law" if other_bound else "limit of the law",
        verdict=np.where(surely, CONDEMNED, PAST),
        remedy="Turn the wheel to its profile, or renew it." if other_bound else "Renew it, or put it right.",
        detail=named + np.where(surely, "", depends).astype(object),
    )


class Family(Protocol):
    """Limit sets that are never mixed with others.

    ``name`` and what ``shows`` it are for people; ``cited`` finds a text that cites one of them.
    """

    @property
    def name(self) -> str: ...
    @property
    def shows(self) -> str: ...
    @property
    def cited(self) -> re.Pattern[str]: ...


def mixed_sets(
    wear_points: pd.DataFrame, families: Mapping[str, Family] | None = None, governs: str = ""
) -> pd.DataFrame:
    """Vehicles whose limits cite rules of two families, or of another than the one that governs them.

    Parameters
    ----------
    wear_points : vehicle, limit_source.
    families : by key, those whose ranges do not overlap.
    governs : key of the family that governs these vehicles; empty where that is not known.

    Returns
    -------
    Findings, one a vehicle.
    """
    families = families or {}
    number, sources = pd.factorize(wear_points["limit_source"].fillna(""))
    vehicle, names = pd.factorize(wear_points["vehicle"], sort=True)
    times = np.zeros(len(names), int)
    for key, family in families.items():
        cited = np.array([bool(family.cited.search(str(text))) for text in sources], bool)
        times += (np.bincount(vehicle, cited[number], len(names)) > 0) | (key == governs)
    both = times > 1
    rows: dict[str, ArrayLike] = {
        "vehicle": np.asarray(names, object)[both],
        "found": np.nan,
        "limit": np.nan,
    }
    all_names = " and ".join(family.name for family in families.values())
    return _findings(
        rows | dict.fromkeys(("position", "points", "base_unit", "bound"), ""),
        check="limit sets mixed",
        verdict=CONDEMNED,
        source="; ".join(family.shows for family in families.values()),
        remedy="Keep one set: a wheelset that is right under one is out of limits under the other.",
        detail=f"limits of more than one of the sets: {all_names}",
    )


def _findings(rows: Mapping[str, ArrayLike], **columns: ArrayLike) -> pd.DataFrame:
    """Findings from columns, or one value for all rows; they are the law's."""
    no_day = np.full(np.shape(rows["vehicle"]), np.datetime64("NaT", "us"))
    everything: dict[str, ArrayLike] = {"date": no_day, "tier": "law", **rows, **columns}
    return pd.DataFrame({name: everything[name] for name in COLUMNS})
