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
from ingest.verdicts import read_again
from ingest.verdicts.add import add_files
from ingest.verdicts.corrections import accept, change_row, dismiss, held_rows

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
        if name == "accept":
            held = held_rows(store)
            told = held.loc[held["table"] == "readings", "held_id"].tolist()
            with suppress(UserError):  # more than doubts speak against it
                accept(store, told[int(text) % len(told)] if told else 0, reason="as read", today=TODAY)
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


_second = st.tuples(
    st.sampled_from(["HOLLOW", "THICK"]),
    st.sampled_from(["2001-05-01", "2001-05-01", "2001-09-01"]),
    st.sampled_from(["0.1", "0.13", "1/8", "0.3", "3 3/8", "3.2", "9"]),
    st.sampled_from(["", "A", "B"]),
    st.sampled_from(["", "found", "left"]),
)


@st.composite
def second_readings(draw):
    """As `batches`: readings of few places and days, which contradict each other, one sheet a batch."""
    out = []
    for number in range(STEPS):
        kind = draw(st.sampled_from(["readings", "readings", "readings", "accept", "change", "work"]))
        if kind == "change":
            out.append((kind, draw(st.sampled_from(["0.13", "0.3"]))))
        elif kind == "accept":
            out.append((kind, str(draw(st.integers(0, 5)))))
        else:
            row = (
                _second if kind == "readings" else st.tuples(_second.map(lambda row: row[:2]), st.just("cut"))
            )
            heading = "point,date,value,observer,found_or_left" if kind == "readings" else "point,date,action"
            rows = draw(st.lists(row, min_size=1, max_size=4))
            cells = [row if kind == "readings" else (*row[0], row[1]) for row in rows]
            out.append(
                (f"{kind} {number}.csv", "".join(f"{line}\n" for line in [heading, *map(_line, cells)]))
            )
    return out


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


def test_a_question_falls_of_a_row_that_goes_on_waiting_for_another_reason(known_once, tmp_path):
    """A date may be turned until the text beside it is stored and seen no more; ``4 psi`` stays no length."""
    heading = "point,date,value,odometer,note\n"
    check(
        known_once,
        tmp_path,
        [
            ("readings.csv", heading + "THICK,2001-03-04,4 psi,,\nHOLLOW,25/12/2001,0.12,,\n"),
            ("other_readings.csv", heading + "LIFT,2002-04-04,9,,\n"),
        ],
    )


@settings(QUICK, max_examples=2)
@given(second_readings())
def test_second_readings_that_wait_get_the_same_verdicts(known_once, tmp_path, given_batches):
    check(known_once, tmp_path, given_batches)


@pytest.mark.parametrize(
    "then",
    [
        ("accept", "1"),
        ("change", "0.3"),
        pytest.param(("work.csv", "point,date,action\nHOLLOW,2001-05-01,cut\n"), marks=pytest.mark.long),
        pytest.param(
            ("other.csv", "point,date,value,observer,found_or_left\nHOLLOW,2001-05-01,3/10,B,left\n"),
            marks=pytest.mark.long,
        ),
    ],
)
def test_what_a_second_reading_may_wait_for(known_once, tmp_path, then):
    """Two that say the same wait: one is accepted, the first corrected, work noted, or one more read."""
    heading, row = "point,date,value,observer,found_or_left\n", "HOLLOW,2001-05-01,{},{},{}\n"
    check(
        known_once,
        tmp_path,
        [
            ("first.csv", heading + row.format("0.1", "A", "found")),
            ("second.csv", heading + row.format("0.3", "B", "found")),
            ("third.csv", heading + row.format("3/10", "B", "")),
            then,
        ],
    )


@pytest.mark.parametrize("waiting", [20, 300])
@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("HOLLOW,2001-05-01,0.{},B{}\n", "another row of the same point"),
        ("THICK,2001-05-01,3.{},B\n", "Which of them holds?"),
    ],
)
def test_a_reading_has_none_judged_again_that_it_cannot_let_go(
    known_once, tmp_path, monkeypatch, waiting, row, why
):
    """Those that contradict another reading of the place, and those of which it is asked which holds."""
    store = Store(tmp_path / "store.duckdb")
    shutil.copyfile(known_once[0], store.path)
    sheets = {
        "first": "HOLLOW,2001-05-01,0.1,A\n",
        "waiting": "".join(row.format(200 + 77 * i % 300, i) for i in range(waiting)),
        "between": "HOLLOW,2001-05-20,0.1,A\n",
        "next": "HOLLOW,2001-06-01,0.1,A\n",
    }
    judged = []

    def counted(raw, *others):
        judged.append(sum(map(len, raw.values())))
        return decided(raw, *others)

    decided = read_again.decide
    monkeypatch.setattr(read_again, "decide", counted)
    for name, rows in sheets.items():
        judged.clear()
        (tmp_path / f"{name}.csv").write_text("point,date,value,observer\n" + rows)
        made = add_files(store, [tmp_path / f"{name}.csv"], today=TODAY)
    held = held_rows(store)
    assert (made.count("accepted"), len(held)) == (1, waiting)
    assert held["why"].str.contains(why, regex=False).all()
    assert sum(judged) == 0


@pytest.mark.long
@settings(QUICK, max_examples=60)
@given(second_readings())
def test_the_same_for_sixty_stores_of_second_readings(known_once, tmp_path, given_batches):
    check(known_once, tmp_path, given_batches)


@pytest.mark.long
@settings(QUICK, max_examples=60)
@given(batches())
def test_the_same_for_sixty_stores(known_once, tmp_path, given_batches):
    check(known_once, tmp_path, given_batches)
