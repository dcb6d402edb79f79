"""What one railway learned, shared as a signed file, and what another makes of it."""

import base64
import json
import re
import stat

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from fleets.fleet_tables import fleet_tables
from fleets.railways import simulate_railways
from fleets.simulate import FleetPlan
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dashboard.cli import main
from dashboard.services.sharing import default_key, read_shared
from dashboard.services.sources import sources_of
from ingest.errors import UnreadableFile
from ingest.store import Store
from models.wear.shared_prior import PARAMETERS

DONOR = FleetPlan(n_families=6, n_lives=8, shape="accelerating", stop=(0.8, 1.5))
NEW = FleetPlan(n_families=6, n_lives=4, readings=(3, 3), shape="accelerating", stop=(0.3, 0.7))


def run(*words, code=0):
    result = CliRunner().invoke(main, [str(w) for w in words])
    assert result.exit_code == code, result.output
    return re.sub(r"\s+", " ", result.output)


def add(fleet, folder):
    """Add a fleet whose families are told apart by their parts, not by the class of their engine."""
    tables = fleet_tables(fleet)
    tables.pop("truth")
    points = tables["wear_points"]
    tables["wear_points"] = points.assign(component=points["component"] + " of kind " + points["vehicle"])
    folder.mkdir()
    for name, table in tables.items():
        table.to_csv(folder / f"{name}.csv", index=False)
    run("add", folder, "--db", folder / "store.duckdb", "--quiet")
    return Store(folder / "store.duckdb")


@pytest.fixture(scope="module")
def railways(tmp_path_factory):
    folder = tmp_path_factory.mktemp("railways")
    donor, new = simulate_railways(np.random.default_rng(4), [DONOR, NEW])
    stores = add(donor, folder / "donor"), add(new, folder / "new")
    run("forecast", "--db", stores[0].path, "--quiet")
    return stores


@pytest.fixture(scope="module")
def file(railways):
    out = railways[0].path.with_name("families.json")
    said = run("share", "--db", railways[0].path, "--out", out, "--name", "Saltmarsh Line")
    assert said.startswith("6 families written to")
    return out


@pytest.fixture
def copy(file, tmp_path):
    """A copy to tamper with, and its contents."""
    path = tmp_path / "copy.json"
    path.write_bytes(file.read_bytes())
    return path, json.loads(file.read_text())


def test_the_file_is_small_and_holds_nothing_but_parameters(file, railways):
    assert file.stat().st_size < 10_000
    body = json.loads(file.read_text())
    wanted = {"component", "quantity", "base_unit", "lives", "readings", "shapes", *PARAMETERS}
    assert all(set(row) == wanted for row in body["families"])
    text = file.read_text()
    for column in ("point", "vehicle"):
        assert not any(f'"{name}"' in text for name in railways[0].read("wear_points")[column])
    key = default_key(railways[0])
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert "PRIVATE" not in text


def test_the_parameters_are_those_of_the_wear(file, railways):
    shared = read_shared(file).families.set_index("component")
    family = railways[0].read_run(railways[0].runs("forecast")["run_id"][0], "family")
    family = (
        family.assign(component=family["family"].str.split(" · ").str[1])
        .set_index("component")
        .loc[shared.index]
    )
    # The store's own table has medians with the prior in them, the file means without it: near, not equal.
    assert np.exp(shared["gauge"]).to_numpy() == pytest.approx(family["gauge_error"].to_numpy(), rel=0.5)
    assert (shared[[f"{name}_sd" for name in PARAMETERS]] > 0).all(axis=None)
    assert np.exp(shared["rate"]).to_numpy() * 1000 == pytest.approx(
        family["rate_per_1000_mi"].to_numpy(), rel=0.15
    )


def test_another_railway_learns_from_it_and_forgets(file, railways, tmp_path):
    new = railways[1]
    run("forecast", "--db", new.path, "--quiet", "--out", tmp_path / "alone.csv")
    run("learn-from", file, "--db", new.path)
    assert "Saltmarsh Line: 6 families" in run("learn-from", "--list", "--db", new.path)
    run("forecast", "--db", new.path, "--quiet", "--out", tmp_path / "told.csv")
    alone, learned = (pd.read_csv(tmp_path / f"{name}.csv") for name in ("alone", "told"))
    moved = (learned["miles_p50"] / alone["miles_p50"] - 1).abs()
    assert moved.median() > 0.02
    run("learn-from", "--forget", "Saltmarsh Line", "--db", new.path)
    assert sources_of(new) is None
    run("forecast", "--db", new.path, "--quiet", "--out", tmp_path / "again.csv")
    pd.testing.assert_frame_equal(pd.read_csv(tmp_path / "again.csv"), alone)


@pytest.mark.parametrize("change", ["centre", "railway", "key", "dropped"])
def test_a_tampered_file_is_refused_in_words(copy, railways, change):
    path, body = copy
    if change == "centre":
        body["families"][0]["rate"][0] -= 0.3
    elif change == "railway":
        body["railway"] = "Another Line"
    elif change == "key":
        body["public_key"] = base64.b64encode(bytes(range(32))).decode()
    else:
        body["families"].pop()
    path.write_text(json.dumps(body))
    said = run("learn-from", path, "--db", railways[1].path, code=1)
    assert "was changed after it was signed" in said
    assert "Nothing of it was taken" in said
    assert sources_of(railways[1]) is None


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(place=st.integers(0, 10_000_000), byte=st.integers(0, 255))
def test_no_single_byte_can_be_changed_unnoticed(copy, file, place, byte):
    path, body = copy
    raw = bytearray(file.read_bytes())
    raw[place % len(raw)] = byte
    path.write_bytes(bytes(raw))
    try:
        read_shared(path)
    except UnreadableFile:
        return
    assert json.loads(bytes(raw)) == body  # white space, or the byte that was there


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "point,date\n", '{"format": "milesleft families 1"}', "[" * 5000]
)
def test_what_is_no_such_file_is_refused_in_words(text, tmp_path, railways):
    path = tmp_path / "other.json"
    path.write_text(text)
    said = run("learn-from", path, "--db", railways[1].path, code=1)
    assert "share'" in said
    assert "Traceback" not in said


def test_the_fingerprint_tells_who_signed(file, copy, railways):
    shared = read_shared(file)
    said = run("learn-from", file, "--db", railways[1].path, "--signed-by", "00000-00000-00000-00000", code=1)
    assert shared.fingerprint in said
    assert sources_of(railways[1]) is None


def test_its_own_file_is_refused(file, railways):
    said = run("learn-from", file, "--db", railways[0].path, code=1)
    assert "count the same readings twice" in said


def test_a_name_that_comes_with_another_key_is_asked_about(file, railways, tmp_path):
    new = railways[1]
    run("learn-from", file, "--db", new.path, "--quiet")
    other = tmp_path / "other.json"
    run(
        "share",
        "--db",
        railways[0].path,
        "--out",
        other,
        "--name",
        "Saltmarsh Line",
        "--key",
        tmp_path / "k.pem",
    )
    said = run("learn-from", other, "--db", new.path, code=1)
    assert "Ask them whether that is so" in said
    run("learn-from", other, "--db", new.path, "--new-key", "--quiet")
    run("learn-from", "--forget", "Saltmarsh Line", "--db", new.path, "--quiet")


def test_without_a_forecast_there_is_nothing_to_share(tmp_path, railways):
    empty = tmp_path / "empty.duckdb"
    run("add", railways[1].path.parent / "vehicles.csv", "--db", empty, "--quiet")
    said = run("share", "--db", empty, "--out", tmp_path / "f.json", "--name", "x", code=1)
    assert "milesleft forecast" in said
