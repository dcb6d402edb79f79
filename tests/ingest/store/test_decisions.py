"""What was decided about plans and cases: added, never changed, and kept through a backup."""

import pandas as pd
import pytest

from ingest.errors import NotPossible
from ingest.store import Store
from ingest.store.backup import backup, restore


@pytest.fixture
def planned(known, store):
    """A store with two plans and a case: their ids."""
    frames = {"windows": pd.DataFrame({"vehicle": ["410"], "cost": [1.5]})}
    return [store.save_run(kind, {}, frames) for kind in ("plan", "plan", "case")]


def test_a_store_without_decisions_says_so_with_the_same_columns(store, known):
    nothing = Store(store.path.with_name("nothing.duckdb"))
    assert list(nothing.decisions("plan").columns) == list(store.decisions("plan").columns)
    assert store.decisions("plan").empty
    assert store.standing("plan", "approved").empty


def test_the_last_decision_of_a_name_stands_and_the_others_stay(store, planned):
    first, second, _ = planned
    version = store.version()
    store.decide_on("plan", "Winter 2026", "proposed", first, who="officer", note="for the board")
    store.decide_on("plan", "Winter 2026", "approved", first, who="board")
    store.decide_on("plan", "What if", "what_if", second)
    found = store.decisions("plan")
    assert found["state"].tolist() == ["what_if", "approved", "proposed"]
    assert found["who"].tolist()[1:] == ["board", "officer"]
    assert found["made_at"].is_monotonic_decreasing
    assert store.standing("plan", "approved")["run_id"].tolist() == [first]
    store.decide_on("plan", "Winter 2026", "withdrawn", first)
    assert store.standing("plan", "approved").empty
    assert store.decisions("plan", "Winter 2026")["state"].tolist() == ["withdrawn", "approved", "proposed"]
    assert store.version() == version


@pytest.mark.parametrize(
    ("kind", "name", "state", "run", "says"),
    [
        ("plan", "W", "shown", 0, "plan: what_if, proposed, approved, withdrawn"),
        ("case", "W", "approved", 2, "case: kept, shown, withdrawn"),
        ("forecast", "W", "kept", 0, "What can be decided"),
        ("plan", "W", "approved", 2, "holds no plan"),
        ("case", "W", "kept", 0, "holds no case"),
        ("plan", " ", "approved", 0, "needs a name"),
    ],
)
def test_what_cannot_be_decided_is_refused_and_leaves_nothing(store, planned, kind, name, state, run, says):
    with pytest.raises(NotPossible, match=says):
        store.decide_on(kind, name, state, planned[run])
    assert store.decisions("plan").empty
    assert store.decisions("case").empty


def test_decisions_and_pictures_come_back_from_a_backup(store, planned, tmp_path):
    store.decide_on("case", "Boiler appeal", "shown", planned[2], note="<b>öffentlich</b>")
    with store.transaction("picture") as batch:
        name = batch.keep_picture(b"\x89PNG\x00\xff")
        assert batch.keep_picture(b"\x89PNG\x00\xff") == name
    backup(store, tmp_path / "b.zip")
    other = Store(tmp_path / "other.duckdb")
    restore(other, tmp_path / "b.zip")
    pd.testing.assert_frame_equal(other.decisions("case"), store.decisions("case"))
    assert other.picture(name) == b"\x89PNG\x00\xff"
