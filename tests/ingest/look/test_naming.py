"""A row that says half of what it measured is asked about, even if one wear point alone would fit."""

POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n"


def test_a_part_without_its_quantity_is_asked_about(look, sheet, known, milesleft, store):
    milesleft("add", sheet(POINTS + "ROD,410,piston rod,left,wear,in,0,0.125\n", "points.csv"))
    path = sheet("vehicle,component,position,date,value\n410,piston,left,2001-02-01,0.02\n")
    asked, read = look(path)
    assert asked["naming"]["answers"] == ["piston-rod-wear", "none"]
    assert read[2]["state"] == "asked about"
    milesleft("add", path, "--answer", f"{asked['naming']['id']}=piston-rod-wear")
    assert store.read("readings")["point"].tolist() == ["ROD"]


def test_of_several_that_fit_one_is_chosen_for_the_whole_sheet(look, sheet, known, milesleft, store):
    path = sheet("vehicle,component,position,date,value\n410,tire,driver 1 left,2001-02-01,3.4\n")
    asked, _ = look(path)
    assert asked["naming"]["answers"] == ["driver-tire-tread-hollow", "driver-tire-thickness", "none"]
    milesleft("add", path, "--answer", f"{asked['naming']['id']}=driver-tire-thickness")
    assert store.read("readings")["point"].tolist() == ["THICK"]


def test_a_whole_name_with_one_quantity_needs_no_question(look, sheet, known, milesleft):
    path = sheet("vehicle,component,position,date,value\n410,lubricator,left,2001-02-01,12\n")
    asked, read = look(path)
    assert asked == {}
    assert read[2]["read"]["point"] == "LIFT"
