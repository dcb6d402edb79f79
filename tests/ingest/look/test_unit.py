"""The unit of values that name none: that of the wear point, unless the column speaks against it."""

HEAD = "point,date,value\n"


def test_millimetres_are_not_taken_for_inches(look, sheet, known, milesleft, store):
    path = sheet(HEAD + "HOLLOW,2001-02-01,0.9\nHOLLOW,2001-03-01,1.2\nTHICK,2001-04-01,80\n")
    asked, read = look(path)
    question = asked["unit"]
    assert question["about"]["rows"] == [2, 3, 4]
    assert {"in", "mm"} <= set(question["answers"])
    assert all("value" not in row["read"] for row in read.values())
    assert milesleft("add", path, "--json")["accepted"] == 0
    milesleft("add", path, "--answer", f"{question['id']}=mm")
    assert store.read("readings")["value"].tolist() == [0.9, 1.2, 80.0]


def test_rows_that_say_the_same_twice_are_in_the_same_unit(look, sheet, known, milesleft, store):
    """The second of two equal rows was read by its wear point's unit when the first was told another."""
    twice = "HOLLOW,2001-02-01,0.9\n" * 2 + "HOLLOW,2001-03-01,1.2\n" * 2
    path = sheet(HEAD + twice)
    asked, _ = look(path)
    assert asked["unit"]["about"]["rows"] == [2, 3, 4, 5]
    milesleft("add", path, "--answer", f"{asked['unit']['id']}=mm")
    assert store.read("readings")["value"].tolist() == [0.9, 1.2]


def test_an_answer_about_the_unit_holds_for_the_next_sheet_of_the_kind(look, sheet, known, milesleft, store):
    path = sheet(HEAD + "HOLLOW,2001-02-01,0.9\nHOLLOW,2001-03-01,1.2\n")
    asked, _ = look(path)
    milesleft("add", path, "--answer", f"{asked['unit']['id']}=mm")
    unsuspicious = sheet(HEAD + "HOLLOW,2001-05-01,0.1\n", "next.csv")
    milesleft("add", unsuspicious)
    assert store.read("readings")["value"].tolist() == [0.9, 1.2, 0.1]


def test_earlier_readings_tell_the_unit_where_the_range_does_not(look, sheet, known, milesleft):
    milesleft("add", sheet(HEAD + "HOLLOW,2001-02-01,3.5 mm\nHOLLOW,2001-03-01,3.6 mm\n", "first.csv"))
    asked, _ = look(sheet(HEAD + "HOLLOW,2001-05-01,3.8\nHOLLOW,2001-06-01,3.9\n"))
    assert "mm" in asked["unit"]["answers"]


def test_values_that_fit_their_points_are_not_asked_about(look, sheet, known):
    asked, read = look(sheet(HEAD + "HOLLOW,2001-02-01,0.1\nTHICK,2001-02-01,3.4\n"))
    assert asked == {}
    assert [row["state"] for row in read.values()] == ["accepted", "accepted"]


def test_counts_of_thousandths_are_asked_about_at_points_in_inches_and_millimetres(
    look, sheet, known, milesleft
):
    points = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    milesleft("add", sheet(points + "FLANGE,410,driver tire,driver 1 left,flange,mm,32,24\n", "points.csv"))
    asked, _ = look(sheet(HEAD + "FLANGE,2001-02-01,1191\nTHICK,2001-02-01,3318\n"))
    assert asked["unit"]["answers"] == ["own", "thou"]
    assert asked["unit"]["about"]["rows"] == [2, 3]


def test_a_few_thousandths_are_no_inches_written_as_such(look, sheet, known, milesleft):
    points = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    milesleft("add", sheet(points + "PIN,410,side rod bushing,driver 1 left,clearance,thou,10,63\n", "p.csv"))
    asked, _ = look(sheet(HEAD + "PIN,2001-02-01,0.026\nPIN,2001-03-01,0.028\n"))
    assert "in" in asked["unit"]["answers"]


def test_thousandths_at_points_in_millimetres_are_asked_about_beside_more_points_in_inches(
    look, sheet, known, milesleft
):
    points = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"
    milesleft("add", sheet(points + "HOLL,410,driver tire,driver 2 left,tread hollow,mm,0,8\n", "p.csv"))
    rows = "HOLLOW,2001-02-01,0.101\nHOLLOW,2001-03-01,0.104\nHOLLOW,2001-04-01,0.106\n"
    asked, read = look(sheet(HEAD + rows + "HOLL,2001-02-01,0.151\nHOLL,2001-03-01,0.177\n"))
    assert asked["unit"]["answers"] == ["own", "in"]
    assert {row["state"] for row in read.values()} == {"asked about"}
