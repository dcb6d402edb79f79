"""What renewals are worth beside a few readings: families with many renewals and few readings, paired.

Run with ``pytest -m long tests/benchmarks/test_renewals_beside_readings.py -s``: some two minutes.
"""

import numpy as np
import pandas as pd
import pytest

from ingest import catalogue
from models.forecast.public import MILES
from models.forecast.run import make_forecast
from models.score.scoring_rules import pinball

FAMILIES, POINTS, LIMIT, LIFE, PER_DAY = 40, 8, 4.0, 20_000.0, 10.0
LOG_DAYS = 6_000
POINT = {
    "vehicle": "V",
    "position": "",
    "quantity": "clearance",
    "unit": "mm",
    "new_value": 0.0,
    "shop_limit": np.nan,
    "condemning_limit": LIMIT,
    "gauge_sd": np.nan,
    "base_unit": "mm",
    "per_base": 1.0,
}
WORLDS = [(1, 1.0, 0.0), (3, 1.0, 0.0), (3, 1.5, 0.0), (3, 1.0, 0.15)]
PROBABILITIES = np.array(list(MILES.values()))


def world(seed, read, power, lost=0.0):
    """Families of parts that wear as a power of the miles and are renewed about where they meet their limit.

    Parameters
    ----------
    read : parts of each family that are read, once, in the life in service.
    lost : share of the renewals that were for another reason, at any mile, without anybody saying so.
    """
    rng = np.random.default_rng(seed)
    points, work, readings, truth = [], [], [], {}
    for family in range(FAMILIES):
        typical = LIFE * np.exp(0.3 * rng.standard_normal())
        for part in range(POINTS):
            name, began, at_end = f"{family}-{part}", 0.0, LOG_DAYS * PER_DAY
            points.append((name, f"part {family}"))
            while True:
                life = typical * np.exp(0.25 * rng.standard_normal())
                ran = life * np.exp(0.05 * rng.standard_normal())
                if rng.uniform() < lost:
                    ran = life * rng.uniform(0.1, 1.0)
                if began + ran >= at_end:
                    break
                began += ran
                work.append((name, began / PER_DAY))
            age = at_end - began
            truth[name] = max(life - age, 0.0)
            if part < read and age > 1000:
                day, m = LOG_DAYS - 50, age - 50 * PER_DAY
                wear = LIMIT * (m / life) ** power + 0.05 * rng.standard_normal()
                readings.append((name, day, max(wear, 0.0), day * PER_DAY))
    return points, work, readings, truth


def tables_of(points, work, readings):
    def dates(days):
        return pd.Timestamp("2000-01-01") + pd.to_timedelta(pd.Series(list(days), dtype=float), unit="D")

    names, parts = zip(*points, strict=True)
    return {
        "vehicles": pd.DataFrame({"vehicle": [], "class": [], "arrangement": []}, dtype="str"),
        "wear_points": pd.DataFrame({"point": names, "component": parts}).assign(**POINT),
        "mileage": pd.DataFrame(
            {"vehicle": "V", "date": dates([0, LOG_DAYS]), "odometer": [0.0, LOG_DAYS * PER_DAY]}
        ),
        "readings": pd.DataFrame(
            {
                "point": [r[0] for r in readings],
                "date": dates(r[1] for r in readings).dt.floor("D"),
                "value": [r[2] for r in readings],
                "odometer": [r[3] for r in readings],
                "odometer_sd": 0.0,
            }
        ),
        "work": pd.DataFrame(
            {
                "point": [w[0] for w in work],
                "date": dates(w[1] for w in work).dt.floor("D"),
                "action": "renewed",
                "value_before": np.nan,
                "value_after": np.nan,
            }
        ),
        "usage": pd.DataFrame({"vehicle": [], "month": [], "miles_planned": [], "miles_sd": []}),
    }


def losses(table, truth):
    """Pinball loss of each wear point over all probabilities [lives], and whether 80 % held the outcome."""
    said = table.set_index("point")[list(MILES)]
    outcome = pd.Series(truth).reindex(said.index).to_numpy()
    loss = pinball(said.to_numpy(), PROBABILITIES, outcome) / LIFE
    held = (said["miles_p10"].to_numpy() <= outcome) & (outcome <= said["miles_p90"].to_numpy())
    return loss, held, said.index.str.split("-").str[0]


@pytest.mark.long
@pytest.mark.parametrize(
    ("read", "power", "lost"), [(1, 1.0, 0.0), (3, 1.0, 0.0), (3, 1.5, 0.0), (3, 1.0, 0.15)]
)
def test_renewals_make_no_family_worse(read, power, lost):
    """Ratio of the losses with and without, over families; its standard error by bootstrap over them."""
    points, work, readings, truth = world(11, read, power, lost)
    tables = tables_of(points, work, readings)
    without, held_without, family = losses(make_forecast(tables).frames["forecast"], truth)
    with_them, held, _ = losses(
        make_forecast(tables, lifetimes=catalogue.assumptions("lifetimes")).frames["forecast"], truth
    )
    both = pd.DataFrame({"with": with_them, "without": without}).groupby(np.asarray(family)).sum()
    rng = np.random.default_rng(0)
    drawn = rng.integers(len(both), size=(2000, len(both)))
    ratios = both["with"].to_numpy()[drawn].sum(axis=1) / both["without"].to_numpy()[drawn].sum(axis=1)
    ratio = both["with"].sum() / both["without"].sum()
    said = f"{read} read, power {power}, {lost:.0%} lost: {ratio:.3f} +- {ratios.std():.3f} of that without, "
    print(f"\n{said}80 % held {held_without.mean():.2f} -> {held.mean():.2f}")
    assert np.quantile(ratios, 0.95) < 1.0
    assert held.mean() > 0.7
