"""Day and month, miles and kilometres: settled by the sheet and the log, or asked."""

import pytest

HEAD = "point,date,value,odometer\n"


def dates(read):
    return [row["read"].get("date") for _, row in sorted(read.items())]


def test_real_dates_among_texts_may_be_turned(look, sheet, known, milesleft, store):
    path = sheet(HEAD + "THICK,25/02/2001,3.2,\nTHICK,2001-03-04,3.2,\nTHICK,2001-05-05,3.2,\n")
    asked, read = look(path)
    assert asked["turned"]["about"]["rows"] == [3]
    assert dates(read) == ["2001-02-25", None, "2001-05-05"]
    milesleft("add", path, "--answer", f"{asked['turned']['id']}=turned")
    assert sorted(store.read("readings")["date"].dt.strftime("%m-%d")) == ["02-25", "04-03", "05-05"]


def test_real_dates_after_the_twelfth_show_that_none_is_turned(look, sheet, known):
    asked, read = look(sheet(HEAD + "THICK,25/02/2001,3.2,\nTHICK,2001-03-04,3.2,\nTHICK,2001-05-17,3.2,\n"))
    assert asked == {}
    assert dates(read) == ["2001-02-25", "2001-03-04", "2001-05-17"]


def test_real_dates_in_order_only_if_turned_are_asked_about(look, sheet, known):
    """By chance no day is after the 12th, so that no text stands beside."""
    days = ["2000-10-11", "2001-11-08", "2004-08-09", "2005-11-10", "2005-04-11"]
    path = sheet(HEAD + "".join(f"THICK,{day},{3.4 - i / 50:.2f},\n" for i, day in enumerate(days)))
    asked, read = look(path)
    assert dates(read) == [None] * 5
    _, read = look(path, "--answer", f"{asked['turned']['id']}=turned")
    assert dates(read)[-2:] == ["2005-10-11", "2005-11-04"]


def test_the_order_of_rows_is_that_within_each_place(look, sheet, known):
    days = ["2000-10-11", "2001-11-08", "2004-08-09", "2005-11-10", "2005-04-11"]
    rows = [
        f"{point},{day},{value},\n" for point, value in (("THICK", 3.3), ("HOLLOW", 0.05)) for day in days
    ]
    assert "turned" in look(sheet(HEAD + "".join(rows)))[0]


@pytest.mark.parametrize("days", [["2000-10-11", "2001-11-08", "2004-08-09"], ["2001-02-03", "2000-05-06"]])
def test_real_dates_in_order_as_shown_or_too_few_ask_nothing(look, sheet, known, days):
    rows = "".join(f"THICK,{day},{3.4 - i / 50:.2f},\n" for i, day in enumerate(days))
    asked, _ = look(sheet(HEAD + rows))
    assert "turned" not in asked


def test_an_order_that_puts_a_date_in_the_future_is_none(look, sheet, known):
    asked, read = look(sheet(HEAD + "THICK,03/04/2001,3.2,\nTHICK,2001-02-01,3.3,\n"))
    assert "dates" in asked
    assert dates(read)[1] == "2001-02-01"


def test_one_year_written_wrong_does_not_turn_the_days_of_a_sheet(look, sheet, known):
    """By day, month, year the rows are in turn but for one in the future; the other way they are not."""
    days = ["06/12/01", "21/01/02", "21/01/31", "22/01/02", "15/02/03", "12/11/04"]
    rows = "".join(f"THICK,{day},{3.4 - i / 50:.2f},\n" for i, day in enumerate(days))
    found, _ = look(sheet(HEAD + rows))
    assert {"dmy", "ymd"} <= set(found["dates"]["answers"])


def test_days_in_the_future_still_tell_the_order_where_the_rows_are_in_turn(look, sheet, known):
    rows = "".join(
        f"THICK,{day},{3.4 - i / 50:.2f},\n" for i, day in enumerate(["02/01/08", "05/01/31", "06/02/03"])
    )
    found, read = look(sheet(HEAD + rows))
    assert found == {}
    assert dates(read) == ["2002-01-08", "2005-01-31", "2006-02-03"]


def test_kilometres_are_not_taken_for_miles(look, sheet, known, milesleft, store):
    path = sheet(
        HEAD + "THICK,2001-02-14,3.2,16335\nTHICK,2001-03-15,3.2,16500\nTHICK,2001-05-15,3.2,17200\n"
    )
    asked, _ = look(path)
    assert asked["distance"]["answers"] == ["mi", "km"]
    milesleft("add", path, "--answer", f"{asked['distance']['id']}=km")
    assert store.read("readings")["odometer"].iloc[0] == pytest.approx(16335 / 1.609344)


def test_a_note_that_says_km_is_heeded(look, sheet, known):
    text = "vehicle,date,odometer,note\n410,2002-02-14,12100,km by hub meter\n410,2002-05-14,12400,\n"
    asked, _ = look(sheet(text))
    assert asked["distance"]["about"]["rows"] == [2, 3]


def test_the_first_log_of_a_metric_engine_is_asked_about(look, sheet, known, milesleft):
    milesleft(
        "add",
        sheet("vehicle,name\n52,Kreuzotter\n", "v.csv"),
        sheet(
            "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
            "T52,52,tire,driver 1 left,thickness,mm,75,40\n",
            "w.csv",
        ),
    )
    asked, _ = look(sheet("vehicle,date,odometer\n52,2001-02-14,12100\n52,2001-05-14,12400\n"))
    assert asked["distance"]["answers"] == ["mi", "km"]
    asked, _ = look(sheet("vehicle,date,odometer\n410,2002-02-14,12100\n410,2002-05-14,12400\n"))
    assert asked == {}


def test_an_order_that_puts_days_into_months_without_running_says_so(known, sheet, look, milesleft):
    rows, miles = "", 12_000
    for month in range(36):
        miles += 400 if 4 <= month % 12 + 1 <= 10 else 0
        rows += f"410,{2003 + month // 12}-{month % 12 + 1:02d}-28,{miles},mi\n"
    milesleft("add", sheet("vehicle,date,odometer,unit\n" + rows, "log.csv"))
    asked, _ = look(sheet("point,date,value\nHOLLOW,05/01/2004,0.1\nHOLLOW,06/07/2004,0.11\n"))
    assert asked["dates"]["means"] == {
        "dmy": "the day stands first, then the month; 1 of 2 days would be in months without running",
        "mdy": "the month stands first, then the day",
    }


@pytest.mark.parametrize("written", ["10 300", "10'300", "10’300", "10\u00a0300", "10,300"])
def test_thousands_of_an_odometer_may_be_parted_by_any_usual_mark(sheet, look, known, written):
    _, rows = look(sheet(f'point,date,value,odometer\nHOLLOW,2001-02-15,1/16,"{written} mi"\n'))
    assert rows[2]["read"]["odometer"] == 10300
