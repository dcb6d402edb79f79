"""The day of all rows that stands below the table, and the year that stands above days without one."""

import pytest

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n" + "".join(
    f"D{n},Bramwick,driving wheel,{n} left,tyre thickness,mm,75,40\n" for n in (1, 2, 3)
)
LOG = "vehicle,date,odometer,unit\n" + "".join(
    f"Bramwick,{year}-01-01,{(year - 1999) * 3000},mi\n" for year in range(2000, 2006)
)


@pytest.fixture
def engine(milesleft, sheet):
    milesleft("add", sheet(POINTS, "points.csv"), sheet(LOG, "log.csv"))


WHEELS = "Bramwick,\nWheel,Tyre thickness mm\n1 left,70.1\n2 left,70.3\n3 left,69.8\n"


def read_as_asked(path, look, milesleft, store):
    """Days and values stored after the one question was answered; what it asked."""
    asked, _ = look(path)
    (question,) = asked.values()
    milesleft("add", path, "--answer", f"{question['id']}={next(iter(question['answers']))}")
    rows = store.read("readings").sort_values("point")
    stored = zip(rows["point"], rows["date"].dt.strftime("%Y-%m-%d"), rows["value"], strict=True)
    return [*stored], question["text"]


@pytest.mark.parametrize(
    "below",
    [
        '"Measured by A. Fenn, 14 June 2003"',
        "Date:,14 June 2003",
        "Average,70.1\n,\nDatum,14.06.2003",
        "gemessen am 14.6.2003 Fenn",
    ],
)
def test_a_day_that_is_signed_below_the_table_is_proposed_for_all_rows(
    below, engine, look, sheet, milesleft, store
):
    stored, text = read_as_asked(sheet(f"{WHEELS}{below}\n"), look, milesleft, store)
    assert stored == [("D1", "2003-06-14", 70.1), ("D2", "2003-06-14", 70.3), ("D3", "2003-06-14", 69.8)]
    assert "for all rows" in text


@pytest.mark.parametrize(
    "below",
    [
        "Measured 14.6.2003, next due 14.6.2004",
        "Date of next inspection,14.6.2004",
        "Printed 14.6.2003",
        "Measured 14.6.2003\nSigned 15.6.2003",
        "Measured 14.6.2003\n2 right,69.9",
    ],
)
def test_a_day_below_that_may_be_of_something_else_is_not_taken(below, engine, milesleft, sheet):
    said = milesleft("add", sheet(f"{WHEELS}{below}\n"), "--look", ends=1)
    assert "does not say its date" in said


def test_a_day_above_that_the_next_is_due_is_not_that_of_the_rows(engine, milesleft, sheet):
    text = WHEELS.replace("Bramwick,", "Bramwick next due 14.6.2004,")
    assert "does not say its date" in milesleft("add", sheet(text), "--look", ends=1)


@pytest.mark.parametrize(
    ("day", "title"),
    [
        ("14 June", "Bramwick wheels 2003"),
        ("June 14", "Bramwick 2003"),
        ("14.6.", "Bramwick 2003"),
        ("14.6", "Bramwick 2003"),
        ("14/6", "Wheels 2003 Bramwick"),
        ("14. Juni", "Bramwick Räder 2003"),
    ],
)
def test_days_without_a_year_are_of_the_one_year_above(day, title, engine, look, sheet, milesleft, store):
    rows = "".join(f"{day},{n} left,{70 + n / 10}\n" for n in (1, 2, 3))
    path = sheet(f"{title},,\nDate,Wheel,Tyre thickness mm\n{rows}")
    stored, text = read_as_asked(path, look, milesleft, store)
    assert stored == [(f"D{n}", "2003-06-14", 70 + n / 10) for n in (1, 2, 3)]
    assert "days without a year are of 2003" in text


@pytest.mark.parametrize(
    ("days", "title"),
    [
        (("14 Nov", "14 Jan", "15 Feb"), "Bramwick winter 2003/04"),
        (("14 Nov", "14 Jan", "15 Feb"), "Bramwick 2003 and 2004"),
        (("14 Nov 2004", "14 Jan", "15 Feb"), "Bramwick 2003"),
        (("14 Nov", "14 Jan", "15 Feb"), "Bramwick"),
    ],
)
def test_days_whose_year_is_not_sure_are_of_none(days, title, engine, milesleft, sheet, store):
    rows = "".join(f"{day},{n} left,{70 + n / 10}\n" for n, day in enumerate(days, 1))
    path = sheet(f"{title},,\nDate,Wheel,Tyre thickness mm\n{rows}")
    found = milesleft("add", path, "--look", ends=0 if "2004" in days[0] else 1)
    assert "days without a year" not in found


def test_two_columns_of_dates_are_of_no_one_year(engine, milesleft, sheet):
    rows = "".join(f"14 June,{n} left,{70 + n / 10},14 May\n" for n in (1, 2, 3))
    path = sheet(f"Bramwick 2003,,,\nDate,Wheel,Tyre thickness mm,Date\n{rows}")
    assert "'14 June 14 May' is no date" in milesleft("add", path, "--look", ends=1)


def test_why_none_of_the_rows_of_a_sheet_would_be_read_is_said(milesleft, sheet):
    milesleft("add", sheet(POINTS, "points.csv"))
    said = milesleft("add", sheet(f"{WHEELS}Date:,14 June 2003\n"), "--look", ends=1)
    assert (
        "none of its rows would be read, most of them because: odometer: the reading has no odometer" in said
    )


def test_a_sheet_of_nothing_but_an_average_is_refused_in_words(engine, milesleft, sheet):
    path = sheet("Bramwick 14 June 2003,\nWheel,Tyre thickness mm\nAverage,70.1\n")
    said = milesleft("add", path, "--look", ends=1)
    assert said.startswith(
        "milesleft: The headings 'Bramwick 14 June 2003', 'column B' are none of a known table"
    )
    assert "none of its rows" not in said
