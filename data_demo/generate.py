"""Write the demo railway: ``python -m data_demo.generate`` rewrites every file byte for byte.

The sheets to be taken in go to ``railway/``, the one of the winter after them to ``winter/``; what no sheet
can know (where each life truly ends, which rows are wrong) goes to ``truth/`` and is read by tests only.
"""

import csv
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import pandas as pd

from data_demo import mistakes, moved, office, opened, sheets
from data_demo.draws import uniform
from data_demo.roster import roster, table, wear_points
from data_demo.service import Service
from data_demo.shop import keep_in_service
from data_demo.traffic import ENGINES, FIRST_DAY, planned_usage, run
from data_demo.trains import trains
from data_demo.workbook import Cell, write_workbook

HERE = Path(__file__).parent
COPIED = 25
"""Rows of the last old sheet that were copied into the new one."""


@dataclass
class Paper:
    """One sheet: the table it holds, its rows, and how its headings and dates are written.

    ``dates`` is a format of ``strftime``; ``cells`` in a workbook: real date cells.
    """

    file: str
    table: str
    frame: pd.DataFrame
    headings: dict[str, str] = field(default_factory=dict)
    dates: str = "%Y-%m-%d"


WRONG = ("file", "row", "table", "kind", "verdict")
LATER_HEADINGS = {
    "date": "Date measured",
    "point": "Wear point",
    "value": "Reading",
    "unit": "Units",
    "odometer": "Mileage",
    "gauge": "Gage",
    "observer": "By",
    "note": "Remarks",
    "vehicle": "Engine",
    "component": "Part",
    "position": "Position",
    "quantity": "Dimension",
}
MOTION_HEADINGS = {"observer": "Taken by", "date": "Day", "value": "Measured", "point": "Wear point"}


@dataclass(frozen=True)
class Railway:
    """All that is written: the sheets of the record, the sheet handed in after it, and the truth."""

    record: list[Paper]
    winter: list[Paper]
    truth: pd.DataFrame


def papers() -> Railway:
    """Return every sheet, and the truth."""
    points = roster()
    services = [Service(points[points["vehicle"] == e.vehicle], run(e)) for e in ENGINES]
    for service in services:
        keep_in_service(service)
        moved.exchange(service)
    truth = pd.concat([moved.truth_of(service) for service in services], ignore_index=True)
    winter = [_winter_paper(services[0]), *_winter_opening()]
    return Railway(_record_papers(points, services), winter, truth)


def _winter_paper(service: Service) -> Paper:
    name = f"{service.running.engine.vehicle.lower()}_winter_check.csv"
    frame = mistakes.put_in(sheets.winter_check(service), mistakes.WINTER, name)
    return Paper(name, "readings", frame, LATER_HEADINGS)


def _winter_opening() -> list[Paper]:
    """The opening that goes on: its first week."""
    frames = {
        "openings": opened.latest_opening(),
        "defects": opened.latest_defects(),
        "scope_lines": opened.latest_lines(),
    }
    return [
        Paper(f"quillon_open_{table}.csv", table, mistakes.put_in(frame, (), table))
        for table, frame in frames.items()
    ]


def _shop_papers(points: pd.DataFrame) -> list[Paper]:
    """What was told of overhauls and of what befell the engines."""
    frames = {
        "openings": opened.openings(),
        "defects": opened.defects(office.findings(points), points),
        "events": opened.events(),
    }
    names = {"openings": "overhauls.csv", "defects": "overhaul_defects.csv", "events": "what_befell.csv"}
    return [Paper(names[table], table, mistakes.put_in(frame, (), table)) for table, frame in frames.items()]


def _record_papers(points: pd.DataFrame, services: list[Service]) -> list[Paper]:
    facts = table("facts.csv").astype("str")
    made = [
        Paper("vehicles.csv", "vehicles", _vehicles()),
        Paper("engine_facts.csv", "facts", mistakes.put_in(facts, (), "facts")),
    ]
    public = wear_points(points)
    for engine in ENGINES:
        own = public[public["vehicle"] == engine.vehicle]
        wrong = mistakes.WEAR_POINTS if engine.code == "Q" else ()
        name = f"{engine.vehicle.lower()}_wear_points.{'xlsx' if engine.code == 'Q' else 'csv'}"
        made.append(Paper(name, "wear_points", mistakes.put_in(own.reset_index(drop=True), wrong, name)))
    for service in services:
        made += _mileage_papers(service) + _reading_papers(service)
    made += [
        Paper("shop_work.csv", "work", mistakes.put_in(sheets.work(services), mistakes.WORK, "work")),
        Paper(
            "teardown_findings.csv",
            "findings",
            mistakes.put_in(office.findings(points), mistakes.FINDINGS, "findings"),
        ),
        Paper("parts.csv", "parts", mistakes.put_in(_text("spares.csv"), (), "parts")),
        Paper("fittings.csv", "fittings", mistakes.put_in(_text("fitted.csv"), (), "fittings")),
        Paper("price_list.csv", "costs", mistakes.put_in(office.costs(), mistakes.COSTS, "costs")),
        Paper("planned_running.csv", "usage", mistakes.put_in(planned_usage(), mistakes.USAGE, "usage")),
        Paper("trains_2027.csv", "trips", mistakes.put_in(trains(), (), "trips")),
        Paper(
            "campaign.xlsx", "funds", mistakes.put_in(office.funds(), mistakes.FUNDS, "funds"), dates="cells"
        ),
    ]
    return made + _shop_papers(points)


def _text(name: str) -> pd.DataFrame:
    """A table of this folder as it stands."""
    with (HERE / name).open(encoding="utf-8") as file:
        return pd.read_csv(file, dtype="str", keep_default_na=False)


def _vehicles() -> pd.DataFrame:
    rows = [(e.vehicle, e.name, e.arrangement, e.klass, FIRST_DAY) for e in ENGINES]
    frame = pd.DataFrame(rows, columns=["vehicle", "name", "arrangement", "class", "service_from"])
    return mistakes.put_in(frame, (), "vehicles")


def _mileage_papers(service: Service) -> list[Paper]:
    vehicle = service.running.engine.vehicle
    logs = sheets.mileage(service.running)
    made = []
    for i, log in enumerate(logs):
        name = f"{vehicle.lower()}_mileage" + ("", "_hub_meter")[i]
        wrong = mistakes.MILEAGE[:: 1 if i == 0 else 2]
        headings = {} if i == 0 else {"odometer": "Counter", "service_days": "Days in steam"}
        made.append(Paper(f"{name}.csv", "mileage", mistakes.put_in(log, wrong, name), headings))
    return made


def _reading_papers(service: Service) -> list[Paper]:
    vehicle = service.running.engine.vehicle
    rows = sheets.readings(service)
    made = []
    older: dict[str, pd.DataFrame] = {}
    for sheet in ("wheels", "boxes", "springs", "motion"):
        on_sheet = rows[rows["sheet"] == sheet].drop(columns="sheet").reset_index(drop=True)
        for new in (False, True):
            part = on_sheet[(on_sheet["date"] >= sheets.NEW_SHEETS_FROM) == new].reset_index(drop=True)
            name = f"{vehicle.lower()}_{sheet}" + ("_2014-2026" if new else "_2005-2013")
            name += ".xlsx" if new and sheet == "wheels" else ".csv"
            wrong = tuple(m for m in mistakes.READINGS if _belongs(m, name))
            frame = mistakes.put_in(part, wrong, name)
            if new and sheet == "springs":
                part = sheets.named_in_words(part, service.law.points)
                wrong = (mistakes.NOWHERE, *(m for m in wrong if "point" not in m.change))
                frame = mistakes.put_in(part, wrong, name)
            if new:
                frame = mistakes.say_again(frame, older[sheet]) if sheet == "motion" else frame
                dates = {"wheels": "cells", "boxes": "%Y/%m/%d"}.get(sheet, "%d %b %Y")
                made.append(Paper(name, "readings", frame, LATER_HEADINGS, dates))
            else:
                older[sheet] = frame[frame[mistakes.MARK] == ""].tail(COPIED)
                frame = mistakes.disagree(frame, name) if sheet == "motion" else frame
                dates = {"springs": "%B %d, %Y"}.get(sheet, "%Y-%m-%d")
                made.append(
                    Paper(name, "readings", frame, MOTION_HEADINGS if sheet == "motion" else {}, dates)
                )
    return made


def _belongs(mistake: mistakes.Mistake, name: str) -> bool:
    """Return whether a mistake is made in a sheet: each in about a third of them, some in the wheels only."""
    if mistake.base:
        return "wheels" in name
    return uniform("in which sheet", mistake.kind, name) < 0.35


def write_all(folder: Path = HERE) -> None:
    """Write the railway's sheets and the truth below a folder."""
    for name in ("railway", "winter", "truth"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    railway = papers()
    truth = folder / "truth"
    _write_csv(truth / "wrong_rows.csv", [WRONG, *_write_papers(railway.record, folder / "railway")])
    _write_csv(truth / "wrong_rows_winter.csv", [WRONG, *_write_papers(railway.winter, folder / "winter")])
    told = {"life_in_service.csv": railway.truth, "events.csv": opened.truth_of_events()}
    for name, frame in told.items():
        text = mistakes.as_text(frame)
        _write_csv(truth / name, [tuple(text), *text.itertuples(index=False)])


def _write_papers(made: list[Paper], folder: Path) -> list[tuple[str, int, str, str, str]]:
    """Write each sheet; return its rows that are wrong on purpose, by the columns ``WRONG``."""
    wrong: list[tuple[str, int, str, str, str]] = []
    for paper in made:
        rows = _cells(paper)
        target = folder / paper.file
        if target.suffix == ".xlsx":
            write_workbook(target, {paper.table.replace("_", " "): rows})
        else:
            _write_csv(target, rows)
        frame = paper.frame
        for i in range(len(frame)):
            if frame[mistakes.MARK].iloc[i]:
                about = (frame[mistakes.MARK].iloc[i], frame[mistakes.VERDICT].iloc[i])
                wrong.append((paper.file, i + 2, paper.table, *about))
    return wrong


def _cells(paper: Paper) -> list[list[Cell]]:
    frame = paper.frame.drop(columns=[mistakes.MARK, mistakes.VERDICT])
    numbers = paper.file.endswith(".xlsx") and paper.table != "readings"
    columns: list[list[Cell]] = []
    for name in map(str, frame):
        cells = [str(cell) for cell in frame[name]]
        if name in ("date", "service_from", "price_date", "since", "until", "watch_until"):
            columns.append([_date(cell, paper.dates) for cell in cells])
        else:
            columns.append([_number(cell) if numbers else cell for cell in cells])
    body = [list(row) for row in zip(*columns, strict=True)]
    return [[paper.headings.get(name, name) for name in map(str, frame)], *body]


def _date(text: str, form: str) -> Cell:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return text
    if form == "cells":
        return day
    return day.strftime(form).lstrip("0")


def _number(cell: str) -> Cell:
    try:
        return float(cell) if cell else None
    except ValueError:
        return cell


def _write_csv(path: Path, rows: list) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    write_all()
