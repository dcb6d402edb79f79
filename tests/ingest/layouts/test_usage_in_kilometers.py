"""Planned running of a kilometer railway: the spread is in the unit of the miles."""

import pytest

from ingest.store import Store
from ingest.verdicts.add import add_files

MILE = 1.609344
"""Kilometers in an international mile (National Bureau of Standards, 24 FR 5348, 1959: 0.9144 m a yard)."""


@pytest.mark.parametrize("heads", ["km_planned,km_sd", "km planned,km spread", "miles planned [km],sd [km]"])
def test_spread_of_planned_kilometers(tmp_path, heads):
    (tmp_path / "vehicles.csv").write_text("vehicle,name,arrangement\nLerche,Lerche,2-6-0\n")
    (tmp_path / "usage.csv").write_text(f"vehicle,month,{heads}\nLerche,2027-05,600,90\n")
    store = Store(tmp_path / "s.duckdb")
    add_files(store, [tmp_path])
    row = store.read("usage").iloc[0]
    assert (row["miles_planned"], row["miles_sd"]) == (pytest.approx(600 / MILE), pytest.approx(90 / MILE))
