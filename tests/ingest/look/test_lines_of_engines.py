"""Tables below each other whose lines name engine and day, in one cell or several: files end to end."""

import pytest

NAMES = ("Bramwick", "Quillon", "Merrow Fen")
POINTS = "point,vehicle,component,position,quantity,unit,new_value,condemning_limit\n" + "".join(
    f"{name[0]}-{axle}{side[0].upper()},{name},driver tire,driver {axle} {side},thickness,mm,75,38\n"
    for name in NAMES
    for axle in (1, 2)
    for side in ("left", "right")
)
LOG = "vehicle,date,odometer,unit\n" + "".join(
    f"{name},{year}-01-01,{(year - 1999) * 3000},mi\n" for name in NAMES for year in range(2000, 2008)
)
SIDES = "{line}\n{head}\n1;{value}.1;{value}.2\n2;{value}.3;{value}.4\n\n"
DAYS = {
    "de": (("1.5.2005", "2.6.2006"), "Rad;links;rechts"),
    "en": (("12 March 2005", "3 April 2006"), "Wheel;left;right"),
    "fr": (("12 mars 2005", "3 avril 2006"), "Roue;gauche;droite"),
    "pl": (("12 marca 2005", "3 kwietnia 2006"), "Koło;lewe;prawe"),
}
TOLD = {
    "de": ("2005-05-01", "2006-06-02"),
    "en": ("2005-03-12", "2006-04-03"),
    "fr": ("2005-03-12", "2006-04-03"),
    "pl": ("2005-03-12", "2006-04-03"),
}
TIRES = "driver tire, thickness"


@pytest.fixture
def three(milesleft, sheet):
    milesleft("add", sheet(POINTS, "points.csv"), sheet(LOG, "log.csv"))


@pytest.fixture
def told(look, milesleft, sheet, store):
    """Readings that are stored of a sheet once all that is asked about it is answered, and what was asked."""

    def of(text):
        path = sheet(text, "wheels.csv") if isinstance(text, str) else text
        answers, kinds = [], []
        while fresh := {kind: q for kind, q in look(path, *answers)[0].items() if kind not in kinds}:
            for kind, question in fresh.items():
                kinds.append(kind)
                word = {"layout": TIRES, "dates": "dmy"}[kind]
                answers += ["--answer", f"{question['id']}={word}"]
        milesleft("add", path, *answers)
        rows = store.read("readings")
        days = rows["date"].astype(str).str[:10]
        return {
            (p, d): round(v, 6) for p, d, v in zip(rows["point"], days, rows["value"], strict=True)
        }, kinds

    return of


def blocks(line, language="de", *names, make=SIDES):
    days, head = DAYS[language]
    names = names or NAMES[:2]
    return "".join(
        make.format(line=line.format(name=name, day=day), head=head, value=value)
        for name, day, value in zip(names, (*days, days[0]), (61, 60, 45), strict=False)
    )


def truth(language="de", *initials):
    days = (*TOLD[language], TOLD[language][0])
    return {
        (f"{name}-{place}", day): value + tenth / 10
        for name, day, value in zip(initials or "BQ", days, (61, 60, 45), strict=False)
        for place, tenth in (("1L", 1), ("1R", 2), ("2L", 3), ("2R", 4))
    }


@pytest.mark.parametrize(
    ("language", "line"),
    [
        ("de", "{name} {day}"),
        ("de", "Lok {name}, {day}"),
        ("de", "Lok: {name}, Datum: {day}"),
        ("en", "{name} - {day}"),
        ("fr", "Locomotive {name}, le {day}"),
        ("pl", "Parowóz {name}, {day} r."),
        ("de", "{day} {name}"),
        ("en", "Engine;{name}\nDate;{day}"),
        ("en", "Engine;{name};Date;{day}"),
        ("de", "Lok:;{name};Datum:;{day}"),
        ("fr", "Machine: {name};Date: {day}"),
        ("pl", "Parowóz;{name}\nData;{day}"),
        ("de", "{name};{day}"),
    ],
)
def test_the_line_above_each_block_tells_its_engine_and_day(three, told, language, line):
    stored, asked = told(blocks(line, language))
    assert stored == truth(language)
    assert asked.count("layout") == 1


def test_an_engine_measured_twice_has_a_block_for_each_day(three, told):
    stored, _ = told(blocks("{name} {day}", "de", "Bramwick", "Bramwick", "Quillon"))
    assert stored == truth("de", "B", "B", "Q")


def test_merged_lines_of_a_workbook_tell_engine_and_day(three, told, folder):
    import xlsxwriter

    path = folder / "wheels.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet()
        for place, line in enumerate(blocks("{name} {day}").splitlines()):
            if line[:1].isalpha() and ";" not in line:
                page.merge_range(place, 0, place, 2, line)
            else:
                cells = line.split(";")
                page.write_row(place, 0, [float(text) if "." in text else text for text in cells])
    stored, _ = told(path)
    assert stored == truth()


def test_days_in_the_rows_outrank_the_line_above(three, told):
    text = (
        "Bramwick 9.9.2005\nRad;Datum;Dicke\n1L;1.5.2005;52.1\n\n"
        "Quillon 9.9.2005\nRad;Datum;Dicke\n1L;2.6.2006;61.1\n"
    )
    assert told(text)[0] == {("B-1L", "2005-05-01"): 52.1, ("Q-1L", "2006-06-02"): 61.1}


def other_head(text):
    at = text.rindex("Rad;")
    return f"{text[:at]}Achse{text[at + 3 :]}"


@pytest.mark.parametrize(
    "text",
    [
        blocks("{name} {day}").replace("Quillon", "Tollhurst"),
        other_head(blocks("{name} {day}")).replace("Quillon", "Tollhurst"),
        other_head(blocks("{name} {day}", "de", "Bramwick", "Quillon", "Tollhurst")),
        blocks("{name} {day}", "de", "Bramwick", "Quillon", "Tollhurst").replace(
            "Tollhurst 1.5.2005\nRad;links;rechts", "Tollhurst 1.5.2005"
        ),
        blocks("Lok:;{name}\nDatum:;{day}").replace("Quillon", "Tollhurst"),
        other_head(blocks("Lok:;{name}\nDatum:;{day}")),
        other_head(blocks("Lok;{name};Datum;{day}", "de", "Bramwick", "Quillon", "Tollhurst")),
        blocks("{name}, next due {day}"),
        blocks("{name}, gebaut {day}"),
        blocks("{name} {day} / 3.7.2007"),
        blocks("{name} {day}\nGedruckt: 4.8.2007"),
        blocks("Lok;{name};Baujahr;{day}"),
        blocks("{name} {day}").replace("Quillon 2.6.2006", "Quillon"),
        blocks("{name} {day}", "de", "Bramwick", "Quillon", "Bramwick")
        .replace("1.5.2005", "1.12.2005", 1)
        .replace("1.5.2005", "11.2.2005"),
        blocks("Lok:;{name}", make="{line}\nRad;Datum;links;rechts\n1;1.5.2005;{value}.1;{value}.2\n\n")
        .replace("Quillon", "Tollhurst"),
    ],
    ids=[
        "not on record",
        "not on record, other headings",
        "the third not on record",
        "the third without headings",
        "beside a label, not on record",
        "beside a label, other headings",
        "beside a label, the third not on record",
        "the day of the next",
        "the day it was built",
        "two days",
        "another day below",
        "a label of another day",
        "one without a day",
        "days that count as one",
        "days in the rows, not on record",
    ],
)  # fmt: skip
def test_what_the_lines_leave_open_is_neither_stored_nor_asked_as_one_engine_s(three, milesleft, sheet, text):
    more = sheet("point,date,value\nM-1R,2004-05-01,60\n", "more.csv")
    told = milesleft("add", sheet(text, "wheels.csv"), more, "--json", ends=1)
    assert [question for question in told["questions"] if question["kind"] == "layout"] == []
    assert told["accepted"] == 1
