"""A reading that went back toward new may be that of another place: the question offers the exchange."""

import pytest

from ingest.verdicts.add import add_files, look_at_files

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n" + "".join(
    f"D{axle}{side[0].upper()}-HOLLOW,A,driver tire,driver {axle} {side},tread hollow,mm,0,8\n"
    for axle in (1, 2, 3)
    for side in ("left", "right")
)
LOG = "vehicle,date,odometer,unit\nA,2020-01-01,10000,mi\nA,2023-01-01,40000,mi\n"
WORN = {"1": (3.0, 3.5, 4.0, 4.5), "2": (1.0, 1.3, 1.6, 1.9), "3": (6.0, 6.3, 6.6, 6.9)}
DAYS = ("2020-03-01", "2020-09-01", "2021-03-01", "2021-09-01")


@pytest.fixture
def filled(add, store):
    rows = [
        f"D{axle}{side}-HOLLOW,{day},{value}\n"
        for axle, values in WORN.items()
        for side in "LR"
        for day, value in zip(DAYS, values, strict=True)
    ]
    add(
        vehicles="vehicle,arrangement\nA,0-6-0\n",
        wear_points=POINTS,
        mileage=LOG,
        readings="point,date,value\n" + "".join(rows),
    )
    return store


def handed_in(folder, text):
    path = folder / "after.csv"
    path.write_text("point,date,value\n" + text)
    return path


SWAPPED = "D1L-HOLLOW,2022-03-01,2.2\nD1R-HOLLOW,2022-03-01,2.2\n"


def test_the_question_offers_the_exchange_with_the_place_that_fits(filled, folder):
    (question,) = look_at_files(filled, [handed_in(folder, SWAPPED)]).questions
    offered = [word for word in question.answers if word.startswith("swapped")]
    assert offered == ["swapped-driver-2"]
    assert "exchange is put on record" in question.answers[offered[0]].means


def test_the_answer_stores_the_readings_and_puts_the_exchange_on_record(filled, folder):
    path = handed_in(folder, SWAPPED)
    (question,) = look_at_files(filled, [path]).questions
    report = add_files(filled, [path], answers={question.id: "swapped-driver-2"})
    assert report.files.loc[report.files["table"] == "readings", "accepted"].sum() == 2
    fittings = filled.read("fittings").sort_values(["part_no", "since"])
    assert fittings["position"].tolist() == ["driver 1", "driver 2", "driver 2", "driver 1"]
    assert fittings["since"].dt.strftime("%Y-%m-%d").tolist() == ["2020-01-01", "2022-03-01"] * 2
    assert filled.read("parts")["component"].tolist() == ["wheelset", "wheelset"]
    assert filled.read("work").empty


def test_an_exchange_that_does_not_fit_both_sides_is_not_offered(filled, folder):
    one_side = "D1L-HOLLOW,2022-03-01,2.2\nD1R-HOLLOW,2022-03-01,0.1\n"
    (question,) = look_at_files(filled, [handed_in(folder, one_side)]).questions
    assert not any(word.startswith("swapped") for word in question.answers)
