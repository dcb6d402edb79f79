"""Parts that nobody measures are forecast from the miles between their renewals."""

import numpy as np
import pytest

from ingest import catalogue
from models.distribution import PROBABILITIES
from models.forecast.run import make_forecast

LIFE = 40_000
DAYS = 4_000  # a part lasts so many days
POINTS = [(name, np.nan, np.nan) for name in "ABCDEFGH"]


def forecast(tables, work, *, points=POINTS, first=0, days=3 * DAYS + 1000, why=None, readings=()):
    """Log of 10 miles a day from the given first odometer."""
    made = tables(readings, work, points=points, log=((0, first), (days, first + 10 * days)))
    if why is not None:
        made["work"]["why"] = why
    return make_forecast(made, lifetimes=catalogue.assumptions("lifetimes"))


def renewals(*times, names="ABCDEFGH"):
    return [(name, DAYS * t, "renewed", None, None) for name in names for t in times]


def rows(found):
    return found.frames["forecast"].set_index("point")


@pytest.mark.parametrize(("why", "middle"), [("worn", LIFE), ("", 0.95 * LIFE)])
def test_many_renewals_at_one_distance_give_about_that_distance(tables, why, middle):
    """24 renewals at 40,000 mi, parts in service at 10,000 mi. Where nobody says that they were worn, a
    part may have been worn up to a tenth earlier."""
    found = forecast(tables, renewals(1, 2, 3), why=why)
    row = rows(found).loc["A"]
    assert row["miles_p50"] == pytest.approx(middle - 10_000, rel=0.04)
    assert 0.75 * LIFE < row["miles_p05"] + 10_000 < row["miles_p95"] + 10_000 < 1.2 * LIFE
    assert row["method"] == "miles between renewals, 24 lives" if why else "24 lives" in row["method"]
    assert row["readings_used"] == 0
    assert row["p_beyond_now"] == 0
    assert row["date_p10"] < row["date_p50"] < row["date_p90"]
    assert "cannot" not in row["flags"]
    assert ("not told of 24" in row["flags"]) == (not why)


def test_distribution_is_the_table_s_and_knows_the_next_life(tables):
    found = forecast(tables, renewals(1, 2, 3))
    kept = found.frames["distribution"].set_index("point")
    for point, row in rows(found).iterrows():
        assert kept.loc[point, "remaining"][PROBABILITIES == 0.5][0] == pytest.approx(row["miles_p50"])
        assert (np.diff(kept.loc[point, "new_life"]) > 0).all()
        assert kept.loc[point, "life_miles"] == pytest.approx(10_000)
    assert found.about["forecast"] == 8


def test_a_part_that_came_off_for_another_reason_shortens_nothing(tables):
    """The same lives, a third of them ended by age at half the distance: as many passages, longer lives."""
    worn = renewals(1, 2, 3, names="ABCD")
    early = [(name, DAYS * t, "renewed", None, None) for name in "EFGH" for t in (0.5, 1, 1.5, 2, 2.5, 3)]
    why = ["worn"] * len(worn) + ["age"] * len(early)
    without = rows(forecast(tables, worn, why="worn", points=POINTS[:4]))
    beside = rows(forecast(tables, worn + early, why=why))
    assert beside.loc["A", "miles_p50"] >= without.loc["A", "miles_p50"]
    taken_as_worn = rows(forecast(tables, worn + early, why="worn"))
    assert taken_as_worn.loc["A", "miles_p50"] < 0.9 * beside.loc["A", "miles_p50"]


def test_a_first_life_whose_beginning_is_not_on_record_only_lengthens(tables):
    """The log begins at 500,000 mi: a part renewed after 5,000 of them had run no one knows how far."""
    whole = renewals(1, 2, 3)
    short_first = [(name, DAYS * t + 500, "renewed", None, None) for name in "ABCDEFGH" for t in (0, 1, 2, 3)]
    new = rows(forecast(tables, whole))
    old = rows(forecast(tables, short_first, first=500_000, days=3 * DAYS + 1500))
    assert old.loc["A", "miles_p50"] == pytest.approx(new.loc["A", "miles_p50"], rel=0.03)


def test_a_part_that_was_there_before_the_record_may_end_at_any_mile(tables):
    """Seven sisters tell the life; the eighth was never renewed since a log began that began late."""
    row = rows(forecast(tables, renewals(1, 2, 3, names="ABCDEFG"), first=500_000)).loc["H"]
    assert "beginning of this life not on record" in row["flags"]
    assert "further than any" in row["flags"]
    assert 0 < row["miles_p05"] < 0.05 * LIFE


def test_few_lives_are_told_with_a_wide_range_and_none_with_a_reason(tables):
    one_life = rows(forecast(tables, renewals(1, 2, names="A"), first=500_000, days=2 * DAYS + 1000))
    many = rows(forecast(tables, renewals(1, 2, 3)))
    width = [np.log(r.loc["A", "miles_p95"] / r.loc["A", "miles_p05"]) for r in (one_life, many)]
    assert width[0] > 2 * width[1]
    none = rows(forecast(tables, renewals(1), first=500_000, days=DAYS + 1000))
    assert none.loc["A", "flags"] == ("cannot be forecast: no condemning limit is stated")
    with_limits = [(name, 0.0, 4.0) for name in "ABCDEFGH"]
    none = rows(forecast(tables, renewals(1), first=500_000, days=DAYS + 1000, points=with_limits))
    assert none.loc["A", "flags"] == (
        "cannot be forecast: no reading of this kind of part yet, nor a part on record from new until it "
        "came off worn"
    )
    assert np.isnan(none.loc["A", "miles_p50"])


def test_what_is_measured_is_forecast_by_its_readings(tables):
    """A family with readings: renewals of it change no forecast of the wear model by another road."""
    readings = [("A", d, 4.0 * d / DAYS, 10 * d) for d in range(200, 1200, 200)]
    made = tables(readings, (), points=[("A", 0.0, 4.0)], log=((0, 0), (1000, 10_000)))
    plain = rows(make_forecast(made))
    beside = rows(make_forecast(made, lifetimes=catalogue.assumptions("lifetimes")))
    assert plain.equals(beside)
    assert "pooled wear" in beside.loc["A", "method"]


def test_renewals_before_the_log_begins_and_twice_on_one_day_tell_nothing(tables):
    work = renewals(1, 2, 3)
    doubled = [*work, ("A", DAYS, "renewed", None, None)]
    before = [*doubled, ("A", -900, "renewed", None, None), ("A", -400, "renewed", None, None)]
    expected = rows(forecast(tables, work)).loc["A", "miles_p50"]
    assert rows(forecast(tables, doubled)).loc["A", "miles_p50"] == pytest.approx(expected)
    assert rows(forecast(tables, before)).loc["A", "miles_p50"] == pytest.approx(expected)


def test_on_a_past_day_later_renewals_are_not_known(tables):
    made = tables((), renewals(1, 2, 3), points=POINTS, log=((0, 0), (13_000, 130_000)))
    past = made["work"]["date"].min() + (made["work"]["date"].max() - made["work"]["date"].min()) * 0.9
    known = made | {"work": made["work"][made["work"]["date"] <= past]}
    lifetimes = catalogue.assumptions("lifetimes")
    then = make_forecast(made, as_of=past, lifetimes=lifetimes).frames["forecast"]
    assert then.equals(make_forecast(known, as_of=past, lifetimes=lifetimes).frames["forecast"])
    assert "16 lives" in then["method"][0]


def test_a_few_readings_beside_many_renewals_do_not_make_the_range_wide_again(tables):
    """24 renewals at 40,000 mi tell the life from new; one reading of one part takes nothing of that away."""
    limits = [(name, 0.0, 4.0) for name in "ABCDEFGH"]
    readings = [("A", 3 * DAYS + 900, 0.9, 10 * (3 * DAYS + 900))]
    found = rows(forecast(tables, renewals(1, 2, 3), points=limits, readings=readings))
    for point in ("A", "H"):
        row = found.loc[point]
        assert "pooled wear" in row["method"]
        assert row["miles_p50"] + 10_000 == pytest.approx(0.95 * LIFE, rel=0.06)
        assert 0.7 * LIFE < row["miles_p05"] + 10_000 < row["miles_p95"] + 10_000 < 1.3 * LIFE


def test_other_families_learn_nothing_from_renewals_that_are_not_theirs(tables):
    """A second family with readings of its own is forecast as it was, to four digits."""
    limits = [(name, 0.0, 4.0) for name in "ABCDEFGHXYZ"]
    now = 3 * DAYS + 1000
    readings = [("A", now - 100, 0.9, 10 * (now - 100))]
    for point, rate in (("X", 0.9), ("Y", 1.0), ("Z", 1.15)):
        readings += [(point, day, rate * 4 * day / now / 2, 10 * day) for day in range(1000, now, 1000)]
    made = tables(readings, renewals(1, 2, 3), points=limits, log=((0, 0), (now, 10 * now)))
    made["wear_points"].loc[made["wear_points"]["point"].isin(["X", "Y", "Z"]), "component"] = "journal"
    plain = rows(make_forecast(made))
    beside = rows(make_forecast(made, lifetimes=catalogue.assumptions("lifetimes")))
    miles = [f"miles_p{p}" for p in ("05", "10", "50", "90", "95")]
    np.testing.assert_allclose(
        beside.loc[["X", "Y", "Z"], miles].astype(float),
        plain.loc[["X", "Y", "Z"], miles].astype(float),
        rtol=1e-4,
    )
    assert beside.loc["H", "miles_p95"] < 0.6 * plain.loc["H", "miles_p95"]
