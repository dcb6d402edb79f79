"""Rates of hidden defects by component and by what went before: heat, lubrication, years.

A hierarchical beta-binomial: each component has its mean share and concentration
(:mod:`models.futures.hidden_work`); a circumstance moves the logit of the mean of every component by one
effect that all of them share. The effects have a prior around none: they count only where findings tell.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import expit, logit

from models.futures.hidden_work import CONCENTRATIONS, MEANS, log_posterior

Floats = NDArray[np.float64]

CIRCUMSTANCES = ("heat", "lubricant", "years")
EFFECTS: Floats = np.linspace(-1.5, 1.5, 7)
"""Grid of each effect on the logit of the mean share; of years, for each doubling of their number. [1]"""
EFFECT_SD = 0.5
"""Spread of an effect before any finding: by odds of 1.6 either way. Assumption, no source. [1]"""
FEWEST = 3
"""Tear-downs that must lie on either side of a circumstance before an effect of it is asked for."""
USUAL_YEARS = 8.0
"""Years at which their effect is nothing: what lies between overhauls. Assumption, no source."""


@dataclass(frozen=True)
class Effects:
    """What was learned of circumstances.

    Attributes
    ----------
    lattice : shape (l, c). Effects of each circumstance, all that vary together; others 0. [1]
    weight : shape (l,). Probability of each.
    """

    lattice: Floats
    weight: Floats

    def table(self) -> pd.DataFrame:
        """circumstance, odds (factor on the odds of a defect, middle), low, high (8 times in 10), told."""
        rows = []
        for column, name in enumerate(CIRCUMSTANCES):
            values = self.lattice[:, column]
            order = np.argsort(values, kind="stable")
            total = np.cumsum(self.weight[order])
            picks = [values[order][np.searchsorted(total, p)] for p in (0.1, 0.5, 0.9)]
            mean = float((values * self.weight).sum())
            rows.append((name, *np.exp([mean, picks[0], picks[2]]), bool(np.ptp(values) > 0)))
        return pd.DataFrame(rows, columns=["circumstance", "odds", "low", "high", "told"])


def circumstances(findings: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    """Findings with what went before each: since the tear-down of that component before, or in all.

    Parameters
    ----------
    findings : vehicle, date, component, examined, defective. events : vehicle, date, event, component.

    Returns
    -------
    The same with heat, lubricant (1: such an event of the vehicle, of that component or of none named) and
    years (doublings of the time since the tear-down before, against ``USUAL_YEARS``; 0 for the first).
    """
    out = findings.sort_values(["date", "component"], kind="stable").reset_index(drop=True)
    before = out.groupby(["vehicle", "component"])["date"].shift()
    years = (out["date"] - before).dt.days / 365.2425
    doublings = np.log2(years.clip(lower=0.5).to_numpy(float) / USUAL_YEARS)
    out["years"] = np.nan_to_num(doublings)
    kinds = {"heat": "hot", "lubricant": "lubric"}
    for name, word in kinds.items():
        out[name] = [
            float(_befell(events, row.vehicle, row.component, since, row.date, word))
            for row, since in zip(out.itertuples(), before, strict=True)
        ]
    return out


def ahead_of(findings: pd.DataFrame, events: pd.DataFrame, vehicle: str, day: pd.Timestamp) -> pd.DataFrame:
    """Circumstances of the next tear-down of a vehicle, by component: ``CIRCUMSTANCES``."""
    names = sorted(set(findings["component"]))
    asked = pd.DataFrame(
        {"vehicle": vehicle, "date": day, "component": names, "examined": 0.0, "defective": 0.0}
    )
    own = findings[findings["vehicle"] == vehicle][list(asked)]
    told = circumstances(pd.concat([own, asked], ignore_index=True) if len(own) else asked, events)
    return (
        told[told["examined"] == 0]
        .drop_duplicates("component", keep="last")
        .set_index("component")[list(CIRCUMSTANCES)]
    )


def learn_effects(findings: pd.DataFrame) -> Effects:
    """Effects of circumstances from findings that have them.

    Parameters
    ----------
    findings : component, examined, defective and ``CIRCUMSTANCES``.
    """
    known = findings[findings["examined"] > 0]
    varied = [_varies(known[name].to_numpy(float)) for name in CIRCUMSTANCES]
    axes = [EFFECTS if varies else np.zeros(1) for varies in varied]
    lattice = np.array(list(product(*axes)))
    log = -0.5 * ((lattice / EFFECT_SD) ** 2).sum(axis=1)
    overall = _overall(known)
    if len(lattice) > 1:
        for _, rows in known.groupby("component"):
            for place, effect in enumerate(lattice):
                grid = _grid(rows, overall, effect)
                log[place] += float(np.logaddexp.reduce(grid, axis=None))
    weight = np.exp(log - log.max())
    return Effects(lattice, np.asarray(weight / weight.sum()))


def share_draws(
    findings: pd.DataFrame,
    components: Sequence[str],
    ahead: pd.DataFrame,
    effects: Effects,
    draws: int,
    seed: int,
    *,
    seen: Mapping[str, tuple[float, float]] = MappingProxyType({}),
) -> Floats:
    """Draws of the share that the next tear-down finds defective, by component, as its circumstances are.

    Parameters
    ----------
    findings : as :func:`learn_effects` takes them. ahead : as :func:`ahead_of` gives it; none for a component
        without a row. seen : as :func:`models.futures.hidden_work.defect_share_draws` takes it.

    Returns
    -------
    Shape (draws, len(components)). [1] Without any effect they are those of ``defect_share_draws``.
    """
    known = findings[findings["examined"] > 0]
    overall = _overall(known)
    drawn = np.random.default_rng([seed, *b"effects"]).choice(
        len(effects.weight), size=draws, p=effects.weight
    )
    out = np.empty((draws, len(components)))
    for column, name in enumerate(components):
        next_one = ahead.loc[name].to_numpy(float) if name in ahead.index else np.zeros(len(CIRCUMSTANCES))
        now, bad = seen.get(name, (0.0, 0.0))
        rows = known.loc[known["component"] == name, ["examined", "defective", *CIRCUMSTANCES]]
        if now > 0:
            rows = pd.concat([rows, pd.DataFrame([[now, bad, *next_one]], columns=rows.columns)])
        rng = np.random.default_rng([seed, *name.encode()])
        uniform = rng.random(draws)
        a, concentration = np.empty(draws), np.empty(draws)
        for place in np.unique(drawn):
            own = drawn == place
            grid = _grid(rows, overall, effects.lattice[place])
            total = np.cumsum(np.exp(grid - grid.max()).ravel())
            cell = np.minimum(np.searchsorted(total / total[-1], uniform[own], side="right"), grid.size - 1)
            mean, spread = np.unravel_index(cell, grid.shape)
            shift = float(next_one @ effects.lattice[place])
            a[own] = expit(logit(MEANS[mean]) + shift) * CONCENTRATIONS[spread]
            concentration[own] = CONCENTRATIONS[spread]
        out[:, column] = rng.beta(a + bad, concentration - a + now - bad)
    return out


def _grid(rows: pd.DataFrame, overall: float, effect: Floats) -> Floats:
    """Logarithm of the posterior of mean and concentration of a component, given the effects."""
    shift = rows[list(CIRCUMSTANCES)].to_numpy(float) @ effect
    examined, defective = (rows[name].to_numpy(float) for name in ("examined", "defective"))
    return log_posterior(examined, defective, overall, shift)


def _overall(known: pd.DataFrame) -> float:
    return float((known["defective"].sum() + 0.5) / (known["examined"].sum() + 1.0))


def _varies(values: Floats) -> bool:
    """Whether enough tear-downs lie on either side of the middle of what there is."""
    middle = (values.min() + values.max()) / 2 if len(values) else 0.0
    return min(int((values > middle).sum()), int((values < middle).sum())) >= FEWEST


def _befell(
    events: pd.DataFrame, vehicle: object, component: object, since: object, until: object, word: str
) -> bool:
    """Whether such an event befell the component, or the whole vehicle, between two days."""
    own = events[(events["vehicle"] == vehicle) & (events["date"] <= until)]
    if pd.notna(since):  # type: ignore[call-overload]
        own = own[own["date"] > since]
    named = own["component"].astype(str).str.strip().str.lower()
    concerned = named.isin(["", str(component).strip().lower()])
    return bool((concerned & own["event"].astype(str).str.lower().str.contains(word, regex=False)).any())
