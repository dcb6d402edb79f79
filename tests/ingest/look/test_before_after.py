"""Two columns of one place and day, before and after: asked about, then stored as found and as left."""

import pytest

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit,gauge_sd\n" + "".join(
    f"B-{axle}{side[0].upper()},Bramwick,driver tire,driver {axle} {side},thickness,mm,75,38,0.2\n"
    for axle in (1, 2, 3)
    for side in ("left", "right")
)
LOG = "vehicle,date,odometer,unit\n" + "".join(
    f"Bramwick,{year}-01-01,{(year - 1999) * 3000},mi\n" for year in range(2000, 2008)
)
EARLIER = "point,date,value\n" + "".join(
    f"B-{axle}{side},{day},{value}\n"
    for axle in (1, 2, 3)
    for side in "LR"
    for day, value in (("2001-05-01", 56.0), ("2003-05-01", 54.2))
)
PAIRS = [
    *(
        ("Alt", "Neu"),
        ("old", "new"),
        ("before", "after"),
        ("vorher (mm)", "nachher (mm)"),
        ("avant", "après"),
    ),
    *(("przed", "po"), ("před", "po"), ("stary", "nowy"), ("prima", "dopo"), ("oud", "nieuw")),
    *(("vor dem Abdrehen", "nach dem Abdrehen"), ("As found", "As left"), ("Wert vorher", "Wert nachher")),
]


@pytest.fixture
def tires(milesleft, sheet):
    """Six tires of one engine, read twice."""
    milesleft("add", sheet(POINTS, "points.csv"), sheet(LOG, "log.csv"), sheet(EARLIER, "earlier.csv"))


def pair(heads=("Alt", "Neu"), more="Messgröße,", cell="thickness,", values=("52.2,49.0",) * 6, title=""):
    text = f"{title}Lok,Bauteil,Stelle,{more}Datum,{heads[0]},{heads[1]}\n"
    places = [f"driver {axle} {side}" for axle in (1, 2, 3) for side in ("left", "right")]
    rows = (
        f"Bramwick,driver tire,{where},{cell}2005-05-01,{both}\n"
        for where, both in zip(places, values, strict=True)
    )
    return text + "".join(rows)


def answer(look, milesleft, path, *words):
    """Answers the questions about the columns, one after the other, and adds; the questions."""
    asked = milesleft("add", path, "--look", "--json")["questions"]
    given = [
        text
        for question, word in zip(asked, words, strict=True)
        for text in ("--answer", f"{question['id']}={word}")
    ]
    milesleft("add", path, *given)
    return asked


def read(store):
    rows = store.read("readings")
    rows = rows[rows["date"] == "2005-05-01"]
    return sorted(zip(rows["point"], rows["value"].round(6), rows["found_or_left"], strict=True))


def work(store):
    rows = store.read("work")
    cells = (rows["point"], rows["action"], rows["value_before"].round(6), rows["value_after"].round(6))
    return sorted(zip(*cells, strict=True))


@pytest.mark.parametrize("heads", PAIRS, ids=" ".join)
def test_two_columns_are_asked_about_once_and_nothing_is_stored_before(
    tires, look, milesleft, sheet, store, heads
):
    path = sheet(pair(heads), "turned.csv")
    (question,) = milesleft("add", path, "--json")["questions"]
    assert question["kind"] == "stages"
    assert question["answers"] == ["cut", "only_after", "only_before", "none"]
    assert question["about"]["n_rows"] == 12
    assert read(store) == []


def test_turned_tires_are_read_as_found_and_as_left_and_the_cut_is_put_on_record(
    tires, look, milesleft, sheet, store
):
    path = sheet(pair(), "turned.csv")
    answer(look, milesleft, path, "cut")
    points = [f"B-{axle}{side}" for axle in (1, 2, 3) for side in "LR"]
    both = [[(point, 49.0, "left"), (point, 52.2, "found")] for point in points]
    assert read(store) == [row for rows in both for row in rows]
    assert work(store) == [(point, "cut", 52.2, 49.0) for point in points]
    assert look(path)[0] == {}
    assert "known already" in milesleft("add", path)


def test_what_went_back_toward_new_is_asked_about_apart_and_nothing_offers_a_more_worn_new_part(
    tires, look, milesleft, sheet, store
):
    path = sheet(pair(values=("52.2,49.0",) * 4 + ("52.4,75.0",) * 2), "both.csv")
    cut, renewed = answer(look, milesleft, path, "cut", "renewed")
    assert "renewed" not in cut["answers"]
    assert renewed["answers"][0] == "renewed"
    assert [row[1] for row in work(store)] == ["cut"] * 4 + ["renewed"] * 2
    assert work(store)[-1] == ("B-3R", "renewed", 52.4, 75.0)
    assert look(path)[0] == {}


@pytest.mark.parametrize(("word", "value"), [("only_after", 49.0), ("only_before", 52.2)])
def test_one_column_alone_may_be_of_that_day_and_no_work_is_told(
    tires, look, milesleft, sheet, store, word, value
):
    path = sheet(pair(), "one.csv")
    answer(look, milesleft, path, word)
    assert [row[1:] for row in read(store)] == [(value, "")] * 6
    assert work(store) == []
    assert look(path)[0] == {}


def test_neither_may_be_a_measurement(tires, look, milesleft, sheet, store):
    answer(look, milesleft, sheet(pair(), "numbers.csv"), "none")
    assert read(store) == work(store) == []


def test_what_was_measured_may_stand_in_the_headings_below_a_title(tires, look, milesleft, sheet, store):
    heads = ("Dicke vorher (mm)", "Dicke nachher (mm)")
    text = pair(heads, more="", cell="", title="Radsätze nach der Werkstatt,,,,,\n")
    answer(look, milesleft, sheet(text, "titled.csv"), "cut")
    assert len(read(store)) == 12


def test_a_slip_among_what_was_found_is_asked_about_though_work_followed(
    tires, look, milesleft, sheet, store
):
    path = sheet(pair(values=("34.0,33.5",) + ("52.2,49.0",) * 5), "slip.csv")
    asked, _ = look(path)
    then, _ = look(path, "--answer", f"{asked['stages']['id']}=cut")
    assert list(then) == ["pace"]
    assert then["pace"]["text"].startswith("B-1L on 2005-05-01: 34.0 mm")


def test_an_empty_cell_is_no_reading_and_tells_of_no_work(tires, look, milesleft, sheet, store):
    values = ("52.2,", "-,49.0", "52.2,52.2", *("52.2,49.0",) * 3)
    answer(look, milesleft, sheet(pair(values=values), "gaps.csv"), "cut")
    assert [row[0] for row in read(store)] == [
        "B-1L",
        "B-1R",
        "B-2L",
        *(["B-2R"] * 2),
        *(["B-3L"] * 2),
        *(["B-3R"] * 2),
    ]
    assert [row[0] for row in work(store)] == ["B-1R", "B-2R", "B-3L", "B-3R"]
    assert str(work(store)[0][2]) == "nan"


@pytest.mark.parametrize(
    "text",
    [
        "point,date,value,Alt,Neu\nB-1L,2005-05-01,52.2,a,b\n",
        "point,date,neuer Wert,alter Wert\nB-1L,2005-05-01,52.2,54.2\n",
    ],
)
def test_a_sheet_that_has_a_value_is_read_by_it(tires, look, milesleft, sheet, store, text):
    path = sheet(text, "plain.csv")
    assert look(path)[0] == {}
    milesleft("add", path)
    assert read(store) == [("B-1L", 52.2, "")]


def test_work_with_its_action_stays_work(tires, look, milesleft, sheet, store):
    path = sheet("point,date,action,before,after\nB-1L,2005-05-01,cut,52.2,49\n", "work.csv")
    milesleft("add", path)
    assert work(store) == [("B-1L", "cut", 52.2, 49.0)]
    assert read(store) == []


QUANTITIES = "".join(
    f"F-{axle}L,Bramwick,driver tire,driver {axle} left,flange thickness,mm,32,22,0.2\n" for axle in (1, 2, 3)
)


@pytest.mark.parametrize(
    "heads",
    [
        "Stelle,thickness before mm,thickness after mm,flange thickness mm\n",
        "Stelle,thickness vor (mm),thickness nach (mm),flange thickness (mm)\n",
        ",thickness mm,,flange thickness mm\nStelle,before,after,\n",
        ",Alt,Neu,\nStelle,thickness mm,thickness mm,flange thickness mm\n",
    ],
)
def test_before_and_after_of_one_of_several_quantities(heads, tires, look, milesleft, sheet, store):
    milesleft("add", sheet(POINTS.partition("\n")[0] + "\n" + QUANTITIES, "more.csv"))
    rows = "".join(f"driver {axle} left,52.2,49.0,{30 + axle / 10}\n" for axle in (1, 2, 3))
    path = sheet(f"Bramwick driver tire 2005-05-01,,,\n{heads}{rows}")
    (layout,) = milesleft("add", path, "--look", "--json")["questions"]
    given = ["--answer", f"{layout['id']}={next(iter(layout['answers']))}"]
    (stages,) = milesleft("add", path, "--look", "--json", *given)["questions"]
    assert stages["kind"] == "stages"
    assert "before and after work" in stages["text"]
    milesleft("add", path, *given, "--answer", f"{stages['id']}=cut")
    stored = store.read("readings")
    stored = stored[stored["date"] == "2005-05-01"].sort_values(["point", "value"], ascending=[True, False])
    first = stored[stored["point"].str.endswith("1L")]
    assert [*zip(first["point"], first["value"], strict=True)] == [
        ("B-1L", 52.2), ("B-1L", 49.0), ("F-1L", 30.1)
    ]  # fmt: skip
    assert len(stored) == 9
    work = store.read("work")
    assert [*zip(work["point"], work["action"], strict=True)] == [(f"B-{axle}L", "cut") for axle in (1, 2, 3)]


@pytest.mark.parametrize(
    "text",
    [
        "driver tire thickness mm,,,,\n,driver 1 left,,driver 2 left,\nDate,before,after,before,after\n"
        "1.5.2005,52.2,49.0,52.3,49.1\n",
        "driver tire thickness mm 1.5.2005,,,,\n,vorher,,nachher,\n"
        ",driver 1 left,driver 2 left,driver 1 left,driver 2 left\nthickness,52.2,52.3,49.0,49.1\n",
        "driver tire thickness mm,,\n,1.5.2005,\nWheel,before,after\ndriver 1 left,52.2,49.0\n"
        "driver 2 left,52.3,49.1\n",
    ],
)
def test_before_and_after_under_or_over_positions_and_days(text, tires, milesleft, sheet, store):
    path = sheet(f"Bramwick{',' * text.partition(chr(10))[0].count(',')}\n{text}")
    given = []
    for _ in range(3):  # how it is arranged, the order of the days, what the two are
        for question in milesleft("add", path, "--look", "--json", *given)["questions"]:
            word = {"stages": "cut", "dates": "dmy"}.get(question["kind"], next(iter(question["answers"])))
            given += ["--answer", f"{question['id']}={word}"]
    milesleft("add", path, *given)
    stored = store.read("readings")
    stored = stored[stored["date"] == "2005-05-01"]
    assert sorted(zip(stored["point"], stored["value"], strict=True)) == [
        ("B-1L", 49.0), ("B-1L", 52.2), ("B-2L", 49.1), ("B-2L", 52.3)
    ]  # fmt: skip
    assert store.read("work")["action"].tolist() == ["cut", "cut"]


def test_a_before_without_its_after_is_a_quantity_of_its_own(tires, milesleft, sheet):
    head = "Bramwick driver tire 2005-05-01,,\nStelle,thickness before mm,height before mm\n"
    said = milesleft("add", sheet(f"{head}driver 1 left,52.2,1\n"), "--look", ends=1)
    assert "no wear point has the quantity 'height before'" in said
