"""Rates of hidden defects by component and circumstance: published figures, what is learned, calibration."""

import numpy as np
import pandas as pd
import pytest

from models.futures.hidden_rates import ahead_of, circumstances, learn_effects, share_draws
from models.futures.hidden_work import CONCENTRATIONS, MEANS, defect_share_draws, share_posterior

D = pd.Timestamp
RATS = (
    "0/20 0/20 0/20 0/20 0/20 0/20 0/20 0/19 0/19 0/19 0/19 0/18 0/18 0/17 1/20 1/20 1/20 1/20 1/19 1/19 "
    "1/18 1/18 2/25 2/24 2/23 2/20 2/20 2/20 2/20 2/20 2/20 1/10 5/49 2/19 5/46 3/27 2/17 7/49 7/47 3/20 "
    "3/20 2/13 9/48 10/50 4/20 4/20 4/20 4/20 4/20 4/20 4/20 10/48 4/19 4/19 4/19 5/22 11/46 12/49 5/20 "
    "5/20 6/23 5/19 6/22 6/20 6/20 6/20 16/52 15/47 15/46 9/24"
)
"""Seventy earlier experiments (Tarone 1982) as in A. Gelman et al., Bayesian Data Analysis, 3rd ed. 2013,
table 5.1; from memory, checked by the mean and deviation that section 5.1 prints of the 70 shares."""


def test_the_hierarchy_of_the_rats_is_that_of_the_book():
    y, n = np.array([[float(part) for part in pair.split("/")] for pair in RATS.split()]).T
    assert ((y / n).mean(), (y / n).std(ddof=1)) == pytest.approx((0.136, 0.103), abs=6e-4)
    posterior = share_posterior(np.append(n, 14.0), np.append(y, 4.0), 0.15)
    alpha = float((posterior * MEANS[:, None] * CONCENTRATIONS).sum())
    beta = float((posterior * (1 - MEANS[:, None]) * CONCENTRATIONS).sum())
    # Section 5.3 prints 2.4 and 14.3 as posterior means, under another prior of the concentration.
    assert alpha / (alpha + beta) == pytest.approx(2.4 / 16.7, abs=0.005)
    assert (alpha, beta) == pytest.approx((2.4, 14.3), rel=0.15)


def world(rng, effect, teardowns=12, components=("axle", "rod", "brass", "pin")):
    """Tear-downs of parts, half of them after a hot bearing that moves the logit of every share."""
    rows = []
    for name in components:
        mean, concentration = rng.beta(2, 10), 12.0
        for number in range(teardowns):
            heat = float(number % 2)
            odds = mean / (1 - mean) * np.exp(effect * heat)
            share = rng.beta(odds / (1 + odds) * concentration, concentration / (1 + odds))
            rows.append((name, 8.0, float(rng.binomial(8, share)), heat, 0.0, 0.0))
    return pd.DataFrame(rows, columns=["component", "examined", "defective", "heat", "lubricant", "years"])


def test_an_effect_is_learned_where_findings_tell_and_not_where_they_do_not():
    rng = np.random.default_rng(11)
    strong = learn_effects(world(rng, 1.2)).table().set_index("circumstance")
    assert strong.loc["heat", "odds"] > 1.6
    assert not strong.loc[["lubricant", "years"], "told"].any()
    means = [learn_effects(world(rng, 0.0)).table()["odds"].iloc[0] for _ in range(6)]
    assert 0.6 < np.exp(np.log(means).mean()) < 1.6  # the prior alone spreads each by 1.6


def test_without_circumstances_the_shares_are_those_of_the_plan():
    findings = world(np.random.default_rng(3), 0.0).assign(heat=0.0)
    ahead = pd.DataFrame(columns=["heat", "lubricant", "years"])
    effects = learn_effects(findings)
    seen = {"pin": (3.0, 2.0)}
    told = share_draws(findings, ["axle", "pin"], ahead, effects, 4000, 5, seen=seen)
    plain = defect_share_draws(findings, ["axle", "pin"], 4000, 5, seen=seen)
    # The same law drawn in another order: four standard errors of a mean of 4,000 draws.
    assert told.mean(axis=0) == pytest.approx(plain.mean(axis=0), abs=4 * 0.15 / 4000**0.5)


def test_what_went_before_is_read_from_the_events():
    findings = pd.DataFrame(
        {
            "vehicle": "A",
            "date": [D("2000-01-01"), D("2008-01-01"), D("2016-01-01")],
            "component": ["journal", "journal", "journal"],
            "examined": 8.0,
            "defective": [0.0, 1.0, 0.0],
        }
    )
    events = pd.DataFrame(
        {
            "vehicle": ["A", "A", "B"],
            "date": [D("2004-05-01"), D("2018-01-01"), D("2012-01-01")],
            "event": ["Hot bearing", "another lubricant", "hot bearing"],
            "component": ["journal", "", ""],
        }
    )
    told = circumstances(findings, events)
    assert told["heat"].tolist() == [0.0, 1.0, 0.0]
    assert told["years"].to_numpy() == pytest.approx([0.0, 0.0, 0.0], abs=0.01)
    ahead = ahead_of(findings, events, "A", D("2020-01-01"))
    assert ahead.loc["journal"].tolist() == [0.0, 1.0, pytest.approx(-1.0, abs=0.01)]


@pytest.mark.long
def test_four_hundred_openings_are_held_by_their_range():
    """The 80 % range of what an opening shows holds 75 to 85 of 100: three standard errors are 6."""
    rng = np.random.default_rng(2026)
    held = []
    for opening in range(400):
        effect = rng.normal(0, 0.5)
        findings, hidden = _one_more(rng, effect)
        ahead = pd.DataFrame({"heat": 1.0, "lubricant": 0.0, "years": 0.0}, index=list(hidden))
        shares = share_draws(findings, list(hidden), ahead, learn_effects(findings), 2000, opening)
        found = np.random.default_rng(opening).binomial(8, shares).sum(axis=1)
        low, high = np.quantile(found + np.random.default_rng(opening + 1).random(2000) - 0.5, [0.1, 0.9])
        truth = sum(hidden.values()) + rng.random() - 0.5
        held.append(low <= truth <= high)
    assert 0.75 <= np.mean(held) <= 0.85


def _one_more(rng, effect):
    """Nine tear-downs of each component in one world; the last, after a hot bearing, is kept apart."""
    whole = world(rng, effect, teardowns=10)
    last = whole.groupby("component").tail(1)
    return whole.drop(last.index), dict(zip(last["component"], last["defective"], strict=True))
