# ruff: noqa: E501  (sheets as they are written)
"""Tables that most railways leave empty: taken in, held back, undone and exported like all others."""

from datetime import date

import pytest
from pandas.testing import assert_frame_equal

from ingest.errors import NotPossible
from ingest.schema import TABLES
from ingest.store import Store
from ingest.store.export import export
from ingest.verdicts.add import add_files
from ingest.verdicts.corrections import change_row
from ingest.verdicts.undo import undo

MARK = "ab" * 32
SHEETS = {
    "gauges": "gauge,unit,step,sd,accuracy,since,until,basis\nM1,in,0.001,0.02 mm,0.0003,2001-01-01,2030-01-01,DIN 863\nM1,mm,,,,2002-01-01,,\n",
    "facts": "vehicle,fact,value\n410,axle_load_lb,36000\n410,country,us\n",
    "parts": "part number,component,material,miles_before\nWS1,wheelset,steel,1000 km\nWS2,wheelset,,\n",
    "openings": "opening,vehicle,since,until,depth\nW01,410,2001-10-01,2027-01-01,wheels out\n",
    "fittings": "part_no,vehicle,position,fitted,removed,why\nWS1,410,driver 1,2001-01-01,2001-10-05,while open\nWS2,410,driver 1,2001-10-06,,\nWS1,,,2001-10-05,,\n",
    "scope_lines": "opening,component,action,position,origin,state,parts,cost,currency,trade,date\nW01,crank pin,renewed,driver 2 left,added,open,1,£500,GBP,machining,2001-10-03\n",
    "events": "vehicle,date,event,component\n410,2001-05-01,hot bearing,driving box\n",
    "work": "point,date,action,part_no,opening,why\nTHICK,2001-10-05,renewed,WS1,W01,worn\n",
    "readings": "point,date,value,part_no,opening,as found/left,client_id\nTHICK,2001-10-02,2,WS1,W01,as found,c1\nTHICK,2001-10-02,3.5,WS2,W01,left,c2\n",
    "pictures": f"picture,file name,media_type,vehicle,opening,date\n{MARK},a.jpg,image/jpeg,410,W01,2001-10-02\n",
    "defects": f"vehicle,date,component,opening,defect,place,method,size,unit,verdict,watch_until,picture\n410,2001-10-02,crank pin,W01,crack,fillet,MPI,1/8,in,watch,2030-01-01,{MARK}\n410,2001-10-02,spoke,W01,crack,4,eye,3 mm,,renew,,\n",
    "trips": 'date,train,engines_able,miles\n2030-05-01,T1,410,52 km\n2030-05-01,T2,"410;411",\n',
    "capacities": "resource,trade,month,amount\nlabour,fitting,2030-11,120\nmoney,,,£500\n",
    "lead_times": "component,item,lead time\ndriver tire,tires,14\n",
    "answers": "sheet_kind,question,answer\nk1,decimal,comma\n",
    "layouts": 'layout,content\nours,"[columns]\npoint = ""P"""\n',
}
NEW = [name for name in SHEETS if name not in ("work", "readings")]


@pytest.fixture
def filled(add, known, store):
    report = add(**SHEETS)
    assert report.count("held back") == 0, report.verdicts["reasons"].tolist()
    return store


def test_every_table_of_the_contract_is_tried_here_or_elsewhere():
    older = {"vehicles", "wear_points", "position_aliases", "mileage", "findings", "costs", "usage", "funds"}
    assert {*SHEETS, *older} == set(TABLES)


def test_rows_are_read_in_their_units(filled):
    gauges = filled.read("gauges")
    assert gauges["resolution"].iloc[0] == pytest.approx(0.0254)
    assert gauges["repeatability"].iloc[0] == 0.02  # the cell names its own unit
    assert filled.read("parts")["miles_before"].iloc[0] == pytest.approx(1000 / 1.609344)
    assert filled.read("defects")["size"].tolist() == [pytest.approx(3.175), 3.0]
    assert filled.read("trips")["miles"].iloc[0] == pytest.approx(52 / 1.609344)
    assert filled.read("fittings")["why"].tolist() == ["while_open", "", ""]
    assert filled.read("readings")["found_or_left"].tolist() == ["found", "left"]


@pytest.mark.parametrize("form", ["csv", "xlsx", "parquet"])
def test_what_is_exported_is_taken_in_as_the_same_rows(filled, tmp_path, form):
    export(filled, tmp_path / "out", form)
    other = Store(tmp_path / "other.duckdb")
    report = add_files(other, [tmp_path / "out"], today=date(2026, 6, 1))
    assert report.not_read == ()
    origin = ["row_id", "batch", "source_file", "source_sheet", "source_row"]
    for table in TABLES:
        left, right = filled.read(table), other.read(table)
        assert_frame_equal(left.drop(columns=origin), right.drop(columns=origin), check_exact=True)


def test_the_same_again_is_known_and_an_undo_takes_it_all_back(filled, add, known):
    version = filled.version()
    again = add(**SHEETS)
    assert again.count("already known") == len(again.verdicts)
    assert filled.version() == version
    undo(filled, version, why="trial")
    assert all(filled.read(table).empty for table in SHEETS)
    assert len(filled.read("parts", version)) == 2


@pytest.mark.parametrize(
    ("table", "text", "says"),
    [
        ("readings", "point,date,value,part_no\nTHICK,2001-03-01,3,WS9\n", "no part of that name"),
        ("work", "point,date,action,opening\nTHICK,2001-03-01,renewed,W09\n", "no opening of that name"),
        ("work", "point,date,action,why\nTHICK,2001-03-01,renewed,magic\n", "none of the words allowed"),
        ("openings", "opening,vehicle,since,until\nW2,410,2002-01-02,2002-01-01\n", "must not lie before"),
        ("fittings", "part_no,position,since\nWS1,driver 1,2003-01-01\n", "needs the vehicle"),
        ("pictures", "picture,file name\nabc,a.jpg\n", "is not the SHA-256"),
        ("gauges", "gauge,unit,step\nM2,,0.001\n", "every row needs it"),
        ("defects", "vehicle,date,component,defect,size\n410,2001-03-01,pin,crack,3\n", "no unit"),
        ("facts", "vehicle,fact,value\n499,country,us\n", "no vehicle of that name"),
        ("events", "vehicle,date,event\n410,2030-01-01,flood\n", "in the future"),
    ],
)
def test_what_cannot_be_is_held_back_with_its_reason(filled, add, table, text, says):
    report = add(**{table: text})
    assert report.count("held back") == 1
    assert says in report.verdicts["reasons"].iloc[0]


def test_an_entry_that_says_more_takes_the_place_of_one_that_says_less(add, known, store):
    add(
        work="point,date,action\nTHICK,2001-10-05,renewed\n",
        readings="point,date,value\nTHICK,2001-10-02,2\n",
    )
    more = {
        "work": "point,date,action,why\nTHICK,2001-10-05,renewed,worn\n",
        "readings": "point,date,value,as found/left,client_id\nTHICK,2001-10-02,2,found,c1\n",
    }
    assert add(**more).count("accepted") == 2
    assert store.read("work")["why"].tolist() == ["worn"]
    assert store.read("readings")["client_id"].tolist() == ["c1"]
    less = add(
        work="point,date,action\nTHICK,2001-10-05,renewed\n",
        readings="point,date,value\nTHICK,2001-10-02,2\n",
    )
    assert less.count("already known") == 2
    other = add(work="point,date,action,why\nTHICK,2001-10-05,renewed,age\n")
    assert other.count("held back") == 1
    second = "point,date,value,client_id\nTHICK,2001-10-02,2,c2\nTHICK,2001-10-02,2,c2\nTHICK,2001-10-02,2,\n"
    read_again = add(readings=second)
    assert (read_again.count("accepted"), read_again.count("already known")) == (1, 2)
    assert sorted(store.read("readings")["client_id"]) == ["c1", "c2"]


def test_of_two_rows_of_one_call_the_one_that_says_more_is_stored(add, known, store):
    report = add(readings="point,date,value,part_no\nTHICK,2001-10-02,2,\nTHICK,2001-10-02,2,WS1\n")
    assert (report.count("accepted"), report.count("already known")) == (1, 1)
    assert store.read("readings")["part_no"].tolist() == ["WS1"]


def test_a_part_that_readings_name_is_not_taken_away_under_them(filled):
    parts = filled.read("parts")
    row = int(parts.loc[parts["part_no"] == "WS1", "row_id"].iloc[0])
    with pytest.raises(NotPossible, match="would lose what they name: WS1"):
        change_row(filled, "parts", row, {"part_no": "WS7"}, reason="misread")
    change_row(filled, "parts", row, {"material": "bronze"}, reason="found out")
    assert sorted(filled.read("parts")["material"]) == ["", "bronze"]
