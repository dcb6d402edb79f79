"""The track record scores the forecast that people get: with its cuts, its openings, its own truth."""

import numpy as np
import pandas as pd
import pytest

from dashboard.services.forecasting import forecast_and_store
from dashboard.services.one_run import latest_evidence
from dashboard.services.scoring import run_score
from ingest.store import Store
from ingest.verdicts.add import add_files

PINS = [f"P{i}" for i in range(8)]
FOUND = [(pin, 2.5 + 0.2 * i) for i, pin in enumerate(PINS)]


def kept(folder, **tables):
    """A store of one engine that runs 3,000 miles a year, read every half year."""
    log = [f"A,{year}-{month}-01,{3000 * (year - 2005) + (1500 if month == '07' else 0)},mi"
           for year in range(2005, 2025) for month in ("01", "07")]  # fmt: skip
    tables = {
        "vehicles": ["vehicle,class", "A,K"],
        "wear_points": ["point,vehicle,component,position,quantity,unit,new_value,condemning_limit"]
        + [f"{p},A,crank pin,{i // 2 + 1}{'LR'[i % 2]},clearance,mm,0,4" for i, p in enumerate(PINS)],
        "mileage": ["vehicle,date,odometer,unit", *log],
    } | tables
    for name, lines in tables.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n")
    store = Store(folder / "store.duckdb")
    add_files(store, [folder / f"{name}.csv" for name in tables])
    return store


def readings(rng, renewed):
    """Wear of 0.2 mm a year, a tenth more or less by pin; each pin is renewed in some year."""
    rows = []
    for i, pin in enumerate(PINS):
        rate, began = 0.2 * rng.normal(1, 0.1), 2005.0
        for year in np.arange(2006.0, 2024.0, 0.5):
            if year == renewed(i):
                began = year - 0.25
            day = f"{int(year)}-{'01' if year % 1 == 0 else '07'}-01"
            rows.append((pin, day, max(rate * (year - began) + rng.normal(0, 0.02), 0.0)))
    return rows


def test_as_found_at_an_opening_is_held_against_the_forecast_of_the_day_before(tmp_path):
    rows = readings(np.random.default_rng(6), renewed=lambda _: None)
    lines = [f"{p},{d},{v:.2f},mm,," for p, d, v in rows if d < "2020"]
    lines += [f"{pin},2020-02-03,{value:.2f},mm,O1,found" for pin, value in FOUND]
    lines += [f"{pin},2020-03-01,0.00,mm,O1,left" for pin in PINS[:2]]
    store = kept(
        tmp_path,
        openings=["opening,vehicle,since,until,depth", "O1,A,2020-02-01,2020-03-15,wheels_out"],
        readings=["point,date,value,unit,opening,found_or_left", *lines],
    )
    run_score(store, 2, slow=False)
    found = store.read_run(store.runs("score")["run_id"].iloc[0], "openings").set_index("point")
    held = set(store.read("readings").query("found_or_left == 'found'")["point"])
    assert set(found.index) == held
    told = forecast_and_store(store, pd.Timestamp("2020-01-31"))[1].set_index("point")
    for pin, row in found.iterrows():
        # Read at the miles of that day: the middle is the wear of the last reading, a month on.
        assert row["p10"] < row["p50"] < row["p90"]
        assert row["p50"] == pytest.approx(told.loc[pin, "last_value"], abs=0.3)
        assert row["held"] == (row["p10"] <= row["found"] <= row["p90"])
    assert not found["held"].all()


def test_a_quick_score_takes_back_nothing_that_a_full_one_weighed(tmp_path):
    rows = readings(np.random.default_rng(6), renewed=lambda _: None)
    store = kept(
        tmp_path,
        readings=["point,date,value,unit", *(f"{p},{d},{v:.2f},mm" for p, d, v in rows if d < "2020")],
    )
    run_score(store, 2, slow=True)
    weighed = latest_evidence(store)
    assert weighed
    run_score(store, 2, slow=False)
    after = latest_evidence(store)
    assert after is not None
    assert {name: piece.lives for name, piece in after.items()} == {
        name: piece.lives for name, piece in weighed.items()
    }
