"""The catalogue against 49 CFR Part 230, row by row.

Source: United States, 49 CFR Part 230, Steam Locomotive Inspection and Maintenance Standards, 64 FR 62865, 17
November 1999. The figures below were typed from the texts named beside each row, not taken from the
catalogue: 230.112 from elaws.us and the GPO print, 230.113 and 230.114 from the GPO print (and the Railway
Association of Canada's Circular MC-3 of 28 June 2001, which repeats it), 230.98 from a print verified against
the eCFR of 20 June 2026, 230.94 from the CFR as revised 18 November 2024, 230.99 from the eCFR, 230.100 from
lexfed.com, 230.109 from the CFR current through 30 September 2024, 230.111 from the GPO print. 230.16,
230.17, 230.95 to 230.97, 230.101, 230.104, 230.105, and the end of 230.109(g) and 230.113(k), from the annual
edition of 2015 as the repository 18F/allregs prints it (html/sections/49CFR230.96.html and others).
Tolerance: none, the figures are fractions.
"""

from fractions import Fraction

import pytest

from ingest import catalogue

SET = "us-cfr-230"

# id, figure in its unit, bound, what condemns: at the figure (the text says "or less", "or more", "within")
# or beyond it ("less than", "more than", "not exceed"), paragraph, read in the text or recalled.
ROWS = [
    ("US-112a", "3/32", "max", "beyond", "230.112(a)", "found"),
    ("US-112b1", "53", "min", "beyond", "230.112(b)", "found"),
    ("US-112b2", "53 3/8", "max", "beyond", "230.112(b)", "found"),
    ("US-112b3", "3 1/2", "min", "beyond", "230.112(b)", "found"),
    ("US-112b4", "3 1/8", "max", "beyond", "230.112(b)", "found"),
    ("US-112c", "1/4", "max", "beyond", "230.112(c)", "found"),
    ("US-112d2", "1 1/8", "min", "beyond", "230.112(d)", "found"),
    ("US-112e1", "5 1/2", "min", "beyond", "230.112(e)", "found"),
    ("US-112e2", "5", "min", "beyond", "230.112(e)", "found"),
    ("US-112e3", "6", "min", "beyond", "230.112(e)", "found"),
    ("US-112e4", "5 1/2", "min", "beyond", "230.112(e)", "found"),
    ("US-113b1", "2 1/2", "max", "at", "230.113(b)", "found"),
    ("US-113b2", "2", "max", "at", "230.113(b)", "found"),
    ("US-113c1", "1 1/2", "max", "beyond", "230.113(c)", "found"),
    ("US-113c2", "1/2", "max", "beyond", "230.113(c)", "found"),
    ("US-113d", "3 3/4", "min", "beyond", "230.113(d)", "found"),
    ("US-113e1", "2 1/2", "max", "at", "230.113(e)", "found"),
    ("US-113e2", "2", "max", "at", "230.113(e)", "found"),
    ("US-113f", "3 3/4", "min", "at", "230.113(f)", "found"),
    ("US-113g", "15/16", "min", "at", "230.113(g)", "found"),
    ("US-113h", "5/16", "max", "at", "230.113(h)", "found"),
    ("US-113i1", "1", "min", "beyond", "230.113(i)", "found"),
    ("US-113i2", "1 1/2", "max", "beyond", "230.113(i)", "found"),
    ("US-113j", "1", "min", "beyond", "230.113(j)", "found"),
    ("US-113k1", "3/32", "max", "beyond", "230.113(k)", "found"),
    ("US-113k2", "3/32", "max", "beyond", "230.113(k)", "found"),
    ("US-113k3", "3/32", "max", "beyond", "230.113(k)", "found"),
    ("US-114b4a", "3", "max", "at", "230.114(b)(4)", "found"),
    ("US-114b4b", "25", "max", "at", "230.114(b)(4)", "found"),
    ("US-94v", "1/4", "max", "beyond", "230.94", "found"),
    ("US-94l", "5/16", "max", "beyond", "230.94", "found"),
    ("US-96d", "1/4", "max", "beyond", "230.96(d)", "found"),
    ("US-96f1", "3/32", "max", "beyond", "230.96(f)", "found"),
    ("US-96f1b", "3/32", "max", "beyond", "230.96(f)", "found"),
    ("US-96f2", "5/32", "max", "beyond", "230.96(f)", "found"),
    ("US-96g1", "5/32", "max", "beyond", "230.96(g)", "found"),
    ("US-96g2", "3/16", "max", "beyond", "230.96(g)", "found"),
    ("US-98a6", "1/2", "min", "at", "230.98(a)(6)", "found"),
    ("US-98a6-main", "1/2", "min", "at", "230.98(a)(6)", "found"),
    ("US-98a6-small", "1/2", "min", "at", "230.98(a)(6)", "found"),
    ("US-98a7", "3/4", "min", "at", "230.98(a)(7)", "found"),
    ("US-100a2", "1/4", "min", "at", "230.100(a)(2)", "found"),
    ("US-100a5", "1/8", "max", "beyond", "230.100(a)(5)", "found"),
    ("US-105a1", "1", "max", "beyond", "230.105(a)", "found"),
    ("US-105a2", "1 1/2", "max", "beyond", "230.105(a)", "found"),
    ("US-105a3", "1", "max", "beyond", "230.105(a)", "found"),
    ("US-105a4", "3/4", "max", "beyond", "230.105(a)", "found"),
    ("US-109a", "3/4", "min", "beyond", "230.109(a)", "found"),
    ("US-109c1", "5", "max", "at", "230.109(c)", "found"),
    ("US-109c2", "3", "max", "at", "230.109(c)", "found"),
    ("US-109g", "3/8", "max", "beyond", "230.109(g)", "found"),
    ("US-109g2", "3/4", "max", "beyond", "230.109(g)", "found"),
    ("US-111b1", "3", "max", "at", "230.111(b)(1)", "found"),
]

# Texts without a figure: the railway sets its own limit.
SILENT = ["US-112dx", "US-95", "US-97", "US-101", "US-101b", "US-104a", "US-104b", "US-104c", "US-111b4"]

# US Army subcourse TR 655, after the rules of the Association of American Railroads: rule 73 and rule 85-C.
PRACTICE = [("US-TR655-73", "3/64", "beyond"), ("US-TR655-85C", "11/16", "at")]

# 230.112(d), the table as printed. Rows: weight per axle; columns: diameter of wheel center.
LOADS = [30_000, 35_000, 40_000, 45_000, 50_000, 55_000, None]
CENTERS = [44, 50, 56, 62, 68, 74, None]
TIRES = """
1 1/4  | 1 5/16 | 1 3/8   | 1 7/16  | 1 1/2   | 1 9/16  | 1 5/8
1 5/16 | 1 3/8  | 1 7/16  | 1 1/2   | 1 9/16  | 1 5/8   | 1 11/16
1 3/8  | 1 7/16 | 1 1/2   | 1 9/16  | 1 5/8   | 1 11/16 | 1 3/4
1 7/16 | 1 1/2  | 1 9/16  | 1 5/8   | 1 11/16 | 1 3/4   | 1 13/16
1 1/2  | 1 9/16 | 1 5/8   | 1 11/16 | 1 3/4   | 1 13/16 | 1 7/8
1 9/16 | 1 5/8  | 1 11/16 | 1 3/4   | 1 13/16 | 1 7/8   | 1 15/16
1 5/8  | 1 11/16| 1 3/4   | 1 13/16 | 1 7/8   | 1 15/16 | 2
"""
CELLS = [
    (row, column, cell.strip())
    for row, line in enumerate(TIRES.strip().splitlines())
    for column, cell in enumerate(line.split("|"))
]

# 230.99: axle load [lb], least diameter of journal, wheel seat, center [in].
TENDER = [
    (50_000, "5 1/2", "7 3/8", "6 7/16"),
    (38_000, "5", "6 3/4", "5 7/8"),
    (31_000, "4 1/2", "6 1/4", "5 5/16"),
    (22_000, "3 3/4", "5", "4 3/8"),
    (15_000, "3 1/4", "4 5/8", "3 7/8"),
]


def fraction(text):
    return float(sum(Fraction(part) for part in text.split()))


@pytest.fixture(scope="module")
def rows():
    return catalogue.limits(SET).set_index("id")


@pytest.mark.parametrize(("row_id", "figure", "bound", "when", "paragraph", "status"), ROWS)
def test_every_figure_equals_its_text(rows, row_id, figure, bound, when, paragraph, status):
    row = rows.loc[row_id]
    assert row["number"] == fraction(figure)
    assert (row["bound"], row["condemned_when"], row["paragraph"], row["status"]) == (
        bound,
        when,
        paragraph,
        status,
    )


@pytest.mark.parametrize(("row_id", "figure", "when"), PRACTICE)
def test_practice_of_the_army_course(rows, row_id, figure, when):
    row = rows.loc[row_id]
    assert (row["number"], row["condemned_when"], row["tier"], row["grade"]) == (
        fraction(figure),
        when,
        "practice",
        "B",
    )


@pytest.mark.parametrize("row_id", SILENT)
def test_where_the_law_is_silent_the_catalogue_invents_nothing(rows, row_id):
    row = rows.loc[row_id]
    assert row["value"] == ""
    assert row["tier"] == "none"
    assert "railway sets its own limit" in row["note"]


def test_no_row_of_the_catalogue_is_left_without_a_check(rows):
    tires = {f"US-112d-{row + 1}{column + 1}" for row, column, _ in CELLS}
    tender = {f"US-99-{load // 1000}{which}" for load, *_ in TENDER for which in "jsc"}
    checked = {row[0] for row in ROWS} | {row[0] for row in PRACTICE} | set(SILENT) | tires | tender
    assert set(rows.index) == checked


@pytest.mark.parametrize(("row", "column", "figure"), CELLS)
def test_tire_thickness_is_chosen_from_the_right_cell(row, column, figure):
    load, center = LOADS[row] or 60_000, CENTERS[column] or 80
    below_load, below_center = (
        [0, *edges][place] + 0.5 for edges, place in ((LOADS, row), (CENTERS, column))
    )
    for axle_load, diameter in ((load, center), (below_load, below_center)):  # both ends of the band
        facts = {"axle_load_lb": axle_load, "center_in": diameter}
        chosen = catalogue.choose(SET, "tire", "thickness", "driver", facts, bound="min")
        assert chosen.limit.value == fraction(figure)
        assert chosen.limit.condemned_when == "beyond"
        assert not chosen.unstated


def test_the_tire_table_rises_by_one_sixteenth_with_every_row_and_column():
    # A pattern of the printed table; it tells 1 5/16 from the 15/16 that bad prints show.
    for row, column, figure in CELLS:
        assert fraction(figure) == 1.25 + (row + column) / 16


@pytest.mark.parametrize(("load", "journal", "seat", "center"), TENDER)
def test_tender_axles_at_every_printed_load(load, journal, seat, center):
    facts = {"tender_axle_load_lb": load}
    for part, measure, figure in (
        ("journal", "diameter", journal),
        ("axle", "wheel seat diameter", seat),
        ("axle", "center diameter", center),
    ):
        chosen = catalogue.choose(SET, part, measure, "tender", facts, bound="min")
        assert chosen.limit.value == fraction(figure)
        # The law gives points: just above one the next heavier axle is asked for.
        lighter = catalogue.choose(
            SET, part, measure, "tender", {"tender_axle_load_lb": load - 1}, bound="min"
        )
        assert lighter.limit.value == fraction(figure)


def test_a_tender_axle_heavier_than_any_printed_has_no_figure():
    chosen = catalogue.choose(
        SET, "journal", "diameter", "tender", {"tender_axle_load_lb": 50_001}, bound="min"
    )
    assert chosen.limit is None


@pytest.mark.parametrize(
    ("main", "original", "loss"),
    [
        ("yes", 11.5, 0.5),  # (a)(6): the main axle
        ("no", 6.0, 0.5),  # (a)(7) speaks of originals greater than 6 inches
        ("no", 6.001, 0.75),
        ("no", 10.0, 0.75),
    ],
)
def test_journal_losses_are_counted_from_the_original_diameter(main, original, loss):
    facts = {"main_axle": main, "original_in": original}
    chosen = catalogue.choose(SET, "journal", "diameter", "driver", facts, bound="min")
    assert chosen.limit.value == pytest.approx(original - loss, abs=1e-12)
    assert chosen.limit.condemned_when == "at"


@pytest.mark.parametrize(("gage", "low", "high"), [(36.0, 32.5, 32.875), (24.0, 20.5, 20.875)])
def test_narrow_gage_counts_from_the_track_gage(gage, low, high):
    facts = {"gauge": "narrow", "track_gage_in": gage}
    for bound, figure in (("min", low), ("max", high)):
        chosen = catalogue.choose(SET, "wheelset", "back to back", "driver", facts, bound=bound)
        assert chosen.limit.value == figure


@pytest.mark.parametrize(("center", "figure"), [("swing", 1.0), ("rigid", 1.5)])
def test_lateral_motion_of_the_engine_truck_by_its_center(center, figure):
    facts = {"truck_center": center}
    chosen = catalogue.choose(SET, "wheelset", "lateral motion", "engine truck", facts, bound="max")
    assert chosen.limit.value == figure
    assert "49 CFR 230.105(a)" in chosen.text


def test_retaining_rings_lower_the_thickness_to_the_floor():
    # 230.112(d): as much below as the tire extends between the rings, never less than 1 1/8.
    stated = {"axle_load_lb": 30_000, "center_in": 62, "retaining_rings": "yes"}  # the table says 1 7/16
    for extends, figure in ((0.0, 1.4375), (0.25, 1.1875), (0.5, 1.125)):
        facts = {**stated, "ring_extension_in": extends}
        chosen = catalogue.choose(SET, "tire", "thickness", "driver", facts, bound="min")
        assert chosen.limit.value == figure


# 230.14, the title of 230.15, 230.16(a) and 230.17(a). The law counts the fifth annual inspection, here told
# as five years; tubes and flues: common practice, no source.
CLOCKS = [
    ("31 service days", 31, None, None, "found"),
    ("92 service days", 92, None, None, "found"),
    ("annual", None, 368, None, "found"),
    ("fifth annual", None, None, 60, "found"),
    ("1472 service days", 1472, None, 180, "found"),
    ("tubes and flues", None, None, 180, "practice"),
]


@pytest.mark.parametrize(("clock", "service_days", "days", "months", "status"), CLOCKS)
def test_inspection_intervals(clock, service_days, days, months, status):
    row = catalogue.clocks().set_index("clock").loc[clock]
    for column, figure in (("service_days", service_days), ("days", days), ("months", months)):
        assert (figure is None and row[column] != row[column]) or row[column] == figure
    assert row["status"] == status
    assert ("not read in the text" in row["citation"]) == (status == "memory")


def test_no_clock_is_left_without_a_check():
    assert catalogue.clocks()["clock"].tolist() == [row[0] for row in CLOCKS]
