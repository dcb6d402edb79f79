"""Whatever stands in the cells: a verdict for every row, the second time nothing new, never a traceback."""

import io
import itertools
import shutil
from datetime import date

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ingest.errors import UserError
from ingest.schema import TABLES
from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.report import VERDICTS

LIKELY = {
    "point": ["HOLLOW", "THICK", "LIFT", "hollow "],
    "vehicle": ["410", "411"],
    "date": ["2001-02-03", "3 May 2001", "03/04/05", "2001-02-30", "37000", "2001-06-01"],
    "month": ["2027-05", "May 2027", "2027-13"],
    "action": ["renewed", "Turned", "cut"],
    "kind": ["received", "pledge"],
    "unit": ["in", "mm", "km", "mi", "%", "lb"],
    "event": ["replaced", "rolled over"],
}
FIGURES = ["1/16", "3 3/8", "0.2", "12 thou", "34.9 mm", "-1", "1e9", "11500", "10500 km", "0", "7", "1,000"]
ODD = ["", "", "=1+1", "\u202e12", "n/a", "<b>x</b>", "'", "\n", "x" * 300, "∞", "NaN", "1/0", '"', "0x10"]

_numbers = itertools.count()


@st.composite
def tables(draw: st.DrawFn) -> tuple[str, str]:
    """A table of the contract as CSV, its cells likely, figures or odd; some columns missing."""
    table = TABLES[draw(st.sampled_from(sorted(TABLES)))]
    optional = [name for name in table.public if name not in table.needed]
    columns = (
        [*table.needed, *draw(st.lists(st.sampled_from(optional), unique=True))]
        if optional
        else [*table.needed]
    )
    cell = {
        name: st.sampled_from(LIKELY.get(name, FIGURES)) | st.sampled_from(LIKELY.get(name, FIGURES) + ODD)
        for name in columns
    }
    rows = draw(st.lists(st.fixed_dictionaries(cell), min_size=1, max_size=8))
    out = io.StringIO()
    pd.DataFrame(rows, columns=columns).to_csv(out, index=False)
    return table.name, out.getvalue()


def check_twice(known_once, tmp_path, given_tables) -> None:
    """Add the tables twice to a copy of the known store."""
    folder = tmp_path / str(next(_numbers))
    folder.mkdir()
    store = Store(folder / "s.duckdb")
    shutil.copyfile(known_once[0], store.path)
    paths = []
    for i, (name, text) in enumerate(given_tables):
        paths.append(folder / f"{i}_{name}.csv")
        paths[-1].write_text(text)
    try:
        first = add_files(store, paths, today=date(2026, 6, 1))
    except UserError:
        assert store.version() == known_once[1].batch
        return
    counted = first.files[["accepted", "held_back", "already_known"]].sum(axis=1)
    assert (counted == first.files["rows"]).all()
    assert first.verdicts["verdict"].isin(VERDICTS).all()
    assert (first.held_back["reasons"] != "").all()
    waiting = store.held()
    assert first.count("held back") == len(waiting)
    before = {name: len(frame) for name, frame in store.read_all().items()}
    again = add_files(store, paths, today=date(2026, 6, 1))
    assert again.batch is None
    assert again.count("already known") == len(again.verdicts) == len(first.verdicts)
    assert {name: len(frame) for name, frame in store.read_all().items()} == before
    shutil.rmtree(folder)


QUICK = settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@settings(QUICK)
@given(st.lists(tables(), min_size=1, max_size=3))
def test_every_row_has_a_verdict_and_the_second_time_changes_nothing(known_once, tmp_path, given_tables):
    check_twice(known_once, tmp_path, given_tables)


@pytest.mark.long
@settings(QUICK, max_examples=500)
@given(st.lists(tables(), min_size=1, max_size=3))
def test_the_same_for_five_hundred_calls(known_once, tmp_path, given_tables):
    check_twice(known_once, tmp_path, given_tables)
