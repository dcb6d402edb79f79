"""One catalogue a vehicle: limits, checks, inspections and findings cite its family, in any store."""

import numpy as np
import pandas as pd
import pytest

from dashboard.services.engine_facts import catalogues
from dashboard.services.shop_checks import condemned, inspections_due, shop_findings, without_inspections
from dashboard.services.turnings import assumed_of
from ingest.catalogue import families, family_of
from models.checks.findings_frame import OUT, UNTOLD, WITHIN

STATED = [
    ("country", "Germany"), ("country", "Austria"), ("country", "USA"), ("country", "Atlantis"),
    ("governing catalogue", "us-cfr-230"), ("governing catalogue", "de-ebo"), ("governing catalogue", "none"),
    ("main axle", "1"),
]  # fmt: skip
MEASURED = [
    ("flange thickness", 20, 40),
    ("flange height", 24, 40),
    ("thickness", 20, 80),
    ("diameter", 1400, 1410),
]


def tables_of(seed):
    """A small railway: a few engines, each with facts of its own, readings on both sides of every limit."""
    rng = np.random.default_rng(seed)
    day = pd.Timestamp("2025-05-01")
    engines = [f"E{number}" for number in range(4)]
    facts = [(engine, *STATED[rng.integers(len(STATED))], "", "") for engine in engines]
    points, readings = [], []
    for engine in engines:
        for side in ("left", "right"):
            for quantity, low, high in MEASURED[
                : 4 - seed % 2
            ]:  # in every other store nobody measured diameters
                name = f"{engine}-{side}-{quantity}"
                limit = rng.uniform(low, high) if rng.random() < 0.7 else np.nan
                points.append((name, engine, "driver tire", f"driver 1 {side}", quantity, np.nan, limit))
                readings.append((name, day, rng.uniform(low, high)))
    columns = ["point", "vehicle", "component", "position", "quantity", "new_value", "condemning_limit"]
    wear_points = pd.DataFrame(points, columns=columns).assign(
        base_unit="mm", unit="mm", condemned_when="at", limit_source="own rule", matched_set=""
    )
    mileage = pd.DataFrame({"vehicle": engines, "date": day, "odometer": 100.0, "service_days": 0.0})
    found = {"component": "driver tire", "examined": 2, "defective": 1, "note": "cracked"}
    return {
        "vehicles": pd.DataFrame({"vehicle": engines}),
        "wear_points": wear_points,
        "readings": pd.DataFrame(readings, columns=["point", "date", "value"]),
        "facts": pd.DataFrame(facts, columns=["vehicle", "fact", "value", "unit", "source"]),
        "mileage": mileage,
        "usage": pd.DataFrame({"vehicle": engines, "month": day, "miles_planned": 50.0, "miles_sd": 0.0}),
        "findings": pd.DataFrame({"vehicle": engines, "date": day, **found}),
        "work": pd.DataFrame({"point": [], "date": pd.to_datetime([]), "action": []}),
    }


@pytest.mark.parametrize("seed", range(6))
def test_nothing_cites_rules_of_another_family_than_the_vehicles(seed):
    tables = tables_of(seed)
    chosen = catalogues(tables)
    as_of = tables["mileage"].set_index("vehicle")["date"]
    due = inspections_due(tables, as_of)
    out = condemned(tables)
    cited = [
        *shop_findings(tables)[["vehicle", "source"]].itertuples(index=False, name=None),
        *due[["vehicle", "source"]].itertuples(index=False, name=None),
        *((vehicle, source) for vehicle in chosen for source in assumed_of(tables, vehicle)["source"]),
    ]
    for vehicle, source in cited:
        governs = family_of(chosen[vehicle].limit_set)
        foreign = [
            key for key, family in families().items() if key != governs and family.cited.search(source)
        ]
        assert foreign == [], (vehicle, chosen[vehicle], source)
    assert set(due["vehicle"]).isdisjoint(without_inspections(tables, as_of))
    assert set(due["vehicle"]) | set(without_inspections(tables, as_of)) == set(chosen)
    assert set(out["vehicle"]) == set(chosen)  # a crack puts a tire out wherever it runs
    american = {name for name, law in chosen.items() if law.limit_set == "us-cfr-230"}
    by_practice = out["paragraph"].str.startswith("common practice")
    assert set(out.loc[~by_practice, "vehicle"]) == american
    for vehicle in chosen:
        lag = assumed_of(tables, vehicle).set_index("assumption").loc["lag"]
        assert lag["value"] == pytest.approx(3 / 32)
        assert (lag["source"] == "49 CFR 230.113(k)") == (vehicle in american)


@pytest.mark.parametrize("seed", range(6))
def test_a_value_past_a_limit_is_never_untold_or_within(seed):
    findings = shop_findings(tables_of(seed))
    held = findings[~findings["check"].isin(["limit against the law", "limit sets mixed"])]
    sign = np.where(held["bound"] == "max", 1.0, -1.0)
    past = sign * (held["found"] - held["limit"]) > 1e-6
    assert past.any()
    assert not held.loc[past, "verdict"].isin([UNTOLD, WITHIN]).any()
    assert held.loc[past & (held["tier"] != "shop"), "verdict"].isin(OUT).all()
    rank = findings["verdict"].map(
        {verdict: place for place, verdict in enumerate(findings["verdict"].unique())}
    )
    assert rank.is_monotonic_increasing  # each verdict in one place
