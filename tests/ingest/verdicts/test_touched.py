"""Judging again only what a batch can touch gives what judging all again gives."""

import itertools
import shutil
from contextlib import suppress
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ingest.errors import UserError
from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.corrections import change_row, dismiss, held_rows

TODAY = date(2026, 6, 1)
STEPS = 4
PLACES = ["HOLLOW", "THICK", "LIFT", "NEW", "NEWER"]
_numbers = itertools.count()
_day = st.builds(
    "{:04d}-{:02d}-{:02d}".format, st.sampled_from([2001, 2002]), st.integers(1, 12), st.integers(1, 4)
)
_odd_day = st.sampled_from(["", "2001-02-30", "03/04/01", "25/12/2001", "2027-01-01"])
_reading = st.tuples(
    st.sampled_from(PLACES),
    _day | _odd_day,
    st.sampled_from(["1/16", "0.1", "0.12", "0.3", "3 3/8", "-1", "n/a", "1,250", "9", "4 psi"]),
    st.sampled_from(["", "", "10500", "12000", "99000"]),
    st.sampled_from(["", "new tire fitted"]),
)
_entry = st.tuples(
    st.just("410"), _day, st.sampled_from(["10100", "11000", "12500", "14000", "90"]), st.just("mi")
)
_work = st.tuples(st.sampled_from(PLACES), _day, st.sampled_from(["renewed", "cut", "painted"]))
SHEETS = {
    "readings": ("point,date,value,odometer,note", _reading),
    "mileage": ("vehicle,date,odometer,unit", _entry),
    "work": ("point,date,action", _work),
}
POINTS = (
    "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    "{0},410,driver tire,driver {1} left,tread hollow,in,0,5/16\n"
)


def _line(cells):
    """A row of CSV."""
    return ",".join(f'"{cell}"' if "," in cell else cell for cell in cells)


@st.composite
def batches(draw):
    """What is handed in, batch after batch: name of a file -> its text; or a correction of a reading."""
    out = []
    for _ in range(STEPS):
        kind = draw(
            st.sampled_from(["readings", "readings", "readings", "mileage", "work", "point", "change"])
        )
        if kind == "point":
            name = draw(st.sampled_from(["NEW", "NEWER"]))
            out.append(("points.csv", POINTS.format(name, 2 if name == "NEW" else 3)))
        elif kind == "change":
            out.append((kind, draw(st.sampled_from(["0.11", "0.2"]))))
        else:
            heading, row = SHEETS[kind]
            rows = draw(st.lists(row, min_size=1, max_size=5))
            file = draw(st.sampled_from([f"{kind}.csv", f"other_{kind}.csv"]))
            out.append((file, "".join(f"{line}\n" for line in [heading, *map(_line, rows)])))
    return out


def handed_in(folder, known_once, given_batches, *, all_again: bool):
    """What holds and what waits after all batches; with `all_again` everything is judged again each time,
    because something that waits was dismissed before."""
    store = Store(folder / f"{'all' if all_again else 'touched'}.duckdb")
    shutil.copyfile(known_once[0], store.path)
    spare = folder / "spare.csv"
    spare.write_text(
        "date,amount,kind\n" + "".join(f"2001-01-{i + 1:02d},lots,pledged\n" for i in range(STEPS))
    )
    add_files(store, [spare], today=TODAY)
    spares = held_rows(store)["held_id"].tolist()
    for (name, text), number in zip(given_batches, spares[: len(given_batches)], strict=True):
        if all_again:
            dismiss(store, [number], reason="so that all is judged again")
        if name == "change":
            rows = store.read("readings").sort_values(["point", "date", "value"])
            if len(rows):
                row_id = int(rows["row_id"].iloc[-1])
                with suppress(UserError):  # it would be the same as it is
                    change_row(store, "readings", row_id, {"value": text}, reason="read again", today=TODAY)
            continue
        (folder / name).write_text(text)
        add_files(store, [folder / name], today=TODAY)
    held = held_rows(store)
    waits = held[held["file"] != "spare.csv"][["table", "file", "row", "why"]]
    holds = [
        store.read(table)[columns].sort_values(columns).to_csv(index=False)
        for table, columns in (
            ("readings", ["point", "date", "value_text", "odometer_text", "note"]),
            ("mileage", ["vehicle", "date", "odometer_read"]),
            ("work", ["point", "date", "action"]),
            ("wear_points", ["point", "vehicle"]),
        )
    ]
    return holds, sorted(map(str, waits.to_dict("records")))


def check(known_once, tmp_path, given_batches):
    folder = tmp_path / str(next(_numbers))
    folder.mkdir()
    some = handed_in(folder, known_once, given_batches, all_again=False)
    everything = handed_in(folder, known_once, given_batches, all_again=True)
    assert some == everything
    shutil.rmtree(folder)


QUICK = settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@settings(QUICK)
@given(batches())
def test_the_same_verdicts_as_when_all_is_judged_again(known_once, tmp_path, given_batches):
    check(known_once, tmp_path, given_batches)


def test_a_row_whose_sheet_gets_more_rows_is_judged_with_them(known_once, tmp_path):
    """A second sheet of one name proves the order of day and month for the row that waits from the first."""
    heading = "point,date,value,odometer,note\n"
    told = ",new tire fitted\n"
    check(
        known_once,
        tmp_path,
        [
            ("readings.csv", heading + "HOLLOW,03/04/01,1/16,,\n"),
            (
                "readings.csv",
                heading
                + f"THICK,2001-03-04,1/16,{told}THICK,25/12/2001,0.12,,\n"
                + f"THICK,2001-12-03,0.1,99000{told}THICK,,0.3,12000{told}THICK,,1/16,,\n",
            ),
            ("change", "0.11"),
            ("readings.csv", heading + 'LIFT,2027-01-01,1/16,99000,\nHOLLOW,2002-04-04,"1,250",,\n'),
        ],
    )


@pytest.mark.long
@settings(QUICK, max_examples=60)
@given(batches())
def test_the_same_for_sixty_stores(known_once, tmp_path, given_batches):
    check(known_once, tmp_path, given_batches)
