"""Steps toward new or far ahead, and nearly equal readings, are asked about; an answer does what it says."""

import pytest

from ingest.verdicts.add import add_files, look_at_files
from ingest.verdicts.corrections import held_rows, withdraw_row
from ingest.verdicts.undo import undo

HEAD = "point,date,value,observer,note\n"
WORN = HEAD + "HOLLOW,2001-02-01,0.12,R,\nHOLLOW,2001-04-01,0.13,R,\n"
BACK = "HOLLOW,2001-06-01,0.01,R,\nHOLLOW,2001-08-01,0.02,R,\n"


@pytest.fixture
def only_question(store):
    def ask(path):
        (question,) = look_at_files(store, [path]).questions
        return question

    return ask


def days_of(store, table="readings"):
    return [f"{day:%Y-%m-%d}" for day in store.read(table)["date"].sort_values()]


def test_a_step_toward_new_is_asked_about_and_the_others_are_taken(known, store, sheet, only_question):
    path = sheet(WORN + BACK)
    question = only_question(path)
    assert question.kind == "renewal"
    assert list(question.answers) == ["renewed", "cut", "gauge", "wrong", "before"]
    assert question.text.startswith(
        "Driver tire tread hollow of 410, 2001-06-01: 0.01 in at HOLLOW is nearer to new than 0.13"
    )
    add_files(store, [path])
    assert days_of(store) == ["2001-02-01", "2001-04-01", "2001-08-01"]


@pytest.mark.parametrize("answer", ["renewed", "cut"])
def test_a_renewal_or_cut_that_is_confirmed_is_put_on_record_with_the_reading(
    known, store, sheet, only_question, answer
):
    path = sheet(WORN + BACK)
    add_files(store, [path], answers={only_question(path).id: answer})
    (work,) = store.read("work").to_dict("records")
    assert (work["point"], f"{work['date']:%Y-%m-%d}", work["action"]) == ("HOLLOW", "2001-06-01", answer)
    assert len(store.read("readings")) == 4
    assert look_at_files(store, [path]).questions == ()


def test_another_gauge_is_named_on_the_reading(known, store, sheet, only_question):
    path = sheet(WORN + BACK)
    add_files(store, [path], answers={only_question(path).id: "gauge"})
    read = store.read("readings").set_index("date")
    assert read.loc["2001-06-01", "gauge"] == "another gauge, 2001-06-01"
    assert read["gauge"].drop(read.index[read.index == "2001-06-01"]).eq("").all()
    assert store.read("work").empty


def test_a_wrong_value_is_dismissed_and_stays_on_record(known, store, sheet, only_question):
    path = sheet(WORN + "HOLLOW,2001-06-01,0.01,R,\n")
    add_files(store, [path], answers={only_question(path).id: "wrong"})
    assert days_of(store) == ["2001-02-01", "2001-04-01"]
    assert held_rows(store).empty
    assert held_rows(store, waiting=False)["outcome"].tolist() == ["dismissed"]


def test_the_newest_reading_is_held_against_what_is_stored(known, store, sheet, only_question):
    add_files(store, [sheet(WORN)])
    assert only_question(sheet(HEAD + "HOLLOW,2001-06-01,0.01,R,\n", "later.csv")).kind == "renewal"


def test_nothing_is_asked_within_what_the_gauge_scatters_or_where_work_is_on_record(known, store, sheet):
    noise = HEAD + "HOLLOW,2001-02-01,0.12,R,\nHOLLOW,2001-04-01,0.07,R,\n"
    assert look_at_files(store, [sheet(noise)]).questions == ()
    work = sheet("point,date,action\nHOLLOW,2001-05-10,renewed\n", "work.csv")
    assert look_at_files(store, [sheet(WORN + BACK), work]).questions == ()


def test_a_note_that_tells_of_work_proposes_it_with_its_own_answer_first(known, store, sheet, only_question):
    told = WORN + "HOLLOW,2001-06-01,0.01,R,tyres turned\nHOLLOW,2001-08-01,0.02,R,due for renewal\n"
    question = only_question(sheet(told))
    assert next(iter(question.answers)) == "cut"
    assert "The note says 'tyres turned'" in question.text


def test_a_note_beside_a_worn_value_tells_of_the_work_after_it(known, store, sheet, only_question):
    """The value as found, the part renewed then: the step that follows is explained."""
    path = sheet(
        HEAD + "HOLLOW,2001-02-01,0.12,R,\nHOLLOW,2001-04-01,0.13,R,renewed\nHOLLOW,2001-06-01,0.01,R,\n"
    )
    question = only_question(path)
    assert list(question.answers) == ["renewed", "cut", "no"]
    add_files(store, [path], answers={question.id: "renewed"})
    assert days_of(store, "work") == ["2001-04-01"]
    assert len(store.read("readings")) == 3


def test_a_value_far_ahead_that_no_later_one_bears_out_is_asked_about(known, store, sheet, only_question):
    path = sheet(HEAD + "HOLLOW,2001-02-01,0.1,R,\nHOLLOW,2001-04-01,0.28,R,\nHOLLOW,2001-06-01,0.11,R,\n")
    question = only_question(path)
    assert (question.kind, list(question.answers)) == ("value", ["right", "wrong"])
    add_files(store, [path], answers={question.id: "wrong"})
    assert days_of(store) == ["2001-02-01", "2001-06-01"]


def test_a_second_copy_with_a_small_correction_ends_as_one_history(known, store, sheet, only_question):
    add_files(store, [sheet(WORN)])
    copy = sheet(HEAD + "HOLLOW,2001-02-01,0.12,R,\nHOLLOW,2001-04-01,0.131,R,\n", "copy.csv")
    question = only_question(copy)
    assert (question.kind, list(question.answers)) == ("correction", ["correction", "second"])
    batch = add_files(store, [copy], answers={question.id: "correction"}).batch
    assert sorted(store.read("readings")["value_text"]) == ["0.12", "0.131"]
    undo(store, batch, why="the first was right")
    assert sorted(store.read("readings")["value_text"]) == ["0.12", "0.13"]


def test_two_copies_handed_in_together_end_as_one_history_too(known, store, sheet, only_question):
    first = sheet(WORN, "a.csv")
    copy = sheet(HEAD + "HOLLOW,2001-02-01,0.12,R,\nHOLLOW,2001-04-02,0.13,R,\n", "b.csv")
    (question,) = look_at_files(store, [first, copy]).questions
    add_files(store, [first, copy], answers={question.id: "correction"})
    assert days_of(store) == ["2001-02-01", "2001-04-02"]


def test_a_second_reading_stands_beside_the_first(known, store, sheet, only_question):
    add_files(store, [sheet(WORN)])
    copy = sheet(HEAD + "HOLLOW,2001-04-01,0.131,,\n", "other.csv")
    add_files(store, [copy], answers={only_question(copy).id: "second"})
    assert len(store.read("readings")) == 3


def test_another_observer_on_the_same_day_is_no_correction(known, store, sheet):
    add_files(store, [sheet(WORN)])
    other = sheet(HEAD + "HOLLOW,2001-04-01,0.131,S,\n", "other.csv")
    assert look_at_files(store, [other]).questions == ()


def test_a_sheet_that_was_corrected_since_brings_nothing_back(known, store, sheet, only_question):
    first = sheet(WORN, "first.csv")
    add_files(store, [first])
    copy = sheet(HEAD + "HOLLOW,2001-02-01,0.12,R,\nHOLLOW,2001-04-01,0.131,R,\n", "copy.csv")
    batch = add_files(store, [copy], answers={only_question(copy).id: "correction"}).batch
    both = sheet(HEAD + "HOLLOW,2001-04-01,0.13,R,\nHOLLOW,2001-04-01,0.131,R,\n", "both.csv")
    for path in (first, both, copy):
        assert look_at_files(store, [path]).questions == ()
        assert add_files(store, [path]).batch is None
    assert sorted(store.read("readings")["value_text"]) == ["0.12", "0.131"]
    undo(store, batch, why="the first was right")
    assert add_files(store, [first]).batch is None
    assert sorted(store.read("readings")["value_text"]) == ["0.12", "0.13"]


def test_what_was_withdrawn_comes_back_with_no_sheet(known, store, sheet):
    first = sheet(WORN)
    add_files(store, [first])
    rows = store.read("readings")
    withdraw_row(store, "readings", int(rows["row_id"].iloc[0]), reason="another engine")
    assert add_files(store, [first]).batch is None
    assert len(store.read("readings")) == len(rows) - 1


def test_copies_that_came_together_are_asked_about_once(known, store, sheet):
    paths = [
        sheet(WORN, "a.csv"),
        sheet(HEAD + "HOLLOW,2001-02-01,0.12,R,\nHOLLOW,2001-04-02,0.13,R,\n", "b.csv"),
    ]
    (question,) = look_at_files(store, paths).questions
    add_files(store, paths, answers={question.id: "correction"})
    assert look_at_files(store, paths).questions == ()
    assert add_files(store, paths).batch is None


def test_what_coarse_writing_explains_is_not_asked_about(known, store, sheet, add):
    """A sixty-fourth back is a step of the rule, not of the pin; a sixteenth is."""
    add(pin="point,vehicle,component,position,quantity,unit,new_value,condemning_limit,gauge_sd\n"
        "PIN,410,crank pin,driver 1 left,diameter,in,6 1/2,6 1/4,0.0015\n")  # fmt: skip
    rows = "PIN,2001-02-01,6 7/16,R,\nPIN,2001-03-01,6 27/64,R,\nPIN,2001-04-01,6 7/16,R,\n"
    assert look_at_files(store, [sheet(HEAD + rows)]).questions == ()
    rows = rows.replace("04-01,6 7/16", "04-01,6 31/64")
    assert [q.kind for q in look_at_files(store, [sheet(HEAD + rows, "b.csv")]).questions] == ["renewal"]
    decimals = "PIN,2001-02-01,6.437,R,\nPIN,2001-03-01,6.421,R,\nPIN,2001-04-01,6.437,R,\n"
    assert [q.kind for q in look_at_files(store, [sheet(HEAD + decimals, "c.csv")]).questions] == ["renewal"]


def test_a_note_beside_a_row_of_several_days_is_asked_about_once(known, store, sheet, folder):
    layout = folder / "wide.toml"
    layout.write_text('[[table]]\ntable = "readings"\ncolumns = { Point = "point", Note = "note" }\n'
                      'spread = { headings = "date" }\n')  # fmt: skip
    days = "Point,2001-02-01,2001-04-01,2001-06-01,Note\n"
    back = sheet(days + "HOLLOW,0.15,0.02,0.03,new tires fitted\n")
    (question,) = look_at_files(store, [back], layout=layout).questions
    assert question.shown[0][1].startswith("0.02")
    on = sheet(days + "HOLLOW,0.11,0.12,0.13,new tires fitted\n", "b.csv")
    (question,) = look_at_files(store, [on], layout=layout).questions
    assert question.shown[0][1].startswith("0.13")
