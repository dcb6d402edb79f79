"""The plan as files: scope list as XLSX and PDF for a contractor's quotation, calendar picture, JSON."""

import json
import tempfile
from collections.abc import Hashable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.papers.brief_svg import clean
from dashboard.papers.plan_assumptions import plan_assumptions
from dashboard.papers.plan_picture import calendar_svg
from dashboard.papers.plan_sets import SET_HEADS, plan_sets, set_miles, set_rows
from dashboard.papers.plan_sheets import caution_of, sheets_of
from dashboard.services.planning import PlanResult
from dashboard.words.cautions import PLAN_CAUTION
from dashboard.words.plan_words import DEPTH_WORDS
from dashboard.words.records import for_json
from ingest.errors import WrongUsage
from ingest.writing import TEXTS_STAY, write_whole
from models.frequency import of_100, times_in_100
from models.plan.planner import Plan

TEMPLATE = Path(__file__).parent / "plan_templates" / "plan.typ"
PAPERS = {"a4": "a4", "letter": "us-letter"}
FOOTER_CAUTION = PLAN_CAUTION.split(";")[0] + "."
"""At the foot of each printed sheet, where a footer has room for no more."""
NEAR = pd.Timedelta(days=800)
"""Windows that open within this time have the dimensions of their wear points listed."""

Row = Mapping[Hashable, Any]


def write_plan(result: PlanResult, path: Path) -> None:
    """Write the plan by the file's ending: .xlsx, .pdf, .svg, .png or .json.

    Raises
    ------
    WrongUsage : an ending that none of these is.
    """
    ending = path.suffix.lower()
    if ending == ".xlsx":
        write_whole(path, workbook(result))
    elif ending == ".pdf":
        write_whole(path, plan_pdf(result))
    elif ending == ".json":
        write_whole(path, plan_json(result).encode())
    elif ending in (".svg", ".png"):
        picture = calendar_svg(result.plan.windows, result.usage, result.plan.risk)
        write_whole(path, picture.encode() if ending == ".svg" else _png(picture))
    else:
        raise WrongUsage(f"{path}: '{path.suffix}' is no ending that can be written.")


def plan_json(result: PlanResult) -> str:
    """All frames of the plan as JSON; missing values are null, dates text."""
    frames = {name: for_json(frame) for name, frame in result.frames().items()}
    assumed = for_json(plan_assumptions(result.about))
    whole = {"about": result.about, "assumed": assumed, **frames}
    return json.dumps(whole, default=str, indent=1, allow_nan=False)


def workbook(result: PlanResult) -> bytes:
    """The plan as a workbook; text is written as text, never as a formula or a link."""
    import xlsxwriter

    made = BytesIO()
    with xlsxwriter.Workbook(made, TEXTS_STAY | {"strings_to_numbers": False}) as book:
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        wrap = book.add_format({"text_wrap": True, "valign": "top"})
        formats = {
            "text": wrap,
            "number": book.add_format({"num_format": "#,##0.###", "valign": "top"}),
            "money": book.add_format({"num_format": "#,##0", "valign": "top"}),
            "chance": book.add_format({"num_format": "0", "valign": "top"}),
            "date": book.add_format({"num_format": "yyyy-mm-dd", "valign": "top", "align": "left"}),
        }
        for sheet in sheets_of(result):
            page = book.add_worksheet(sheet.name)
            page.freeze_panes(1, 0)
            for column, (name, kind, width) in enumerate(sheet.columns):
                page.set_column(column, column, width)
                page.write_string(0, column, name, head)
                for row, value in enumerate(sheet.rows):
                    _cell(page, row + 1, column, value[column], kind, formats[kind])
            if sheet.name == "Scope":
                page.write_string(len(sheet.rows) + 2, 0, caution_of(result))
            if sheet.rows:
                page.autofilter(0, 0, len(sheet.rows), len(sheet.columns) - 1)
            page.set_footer(f"&L&8{FOOTER_CAUTION}")
            page.set_landscape()
            page.fit_to_pages(1, 0)
            page.repeat_rows(0)
    return made.getvalue()


def plan_pdf(result: PlanResult, *, paper: str = "a4") -> bytes:
    """The plan as a tagged PDF: calendar, windows with their amounts, scope and dimensions of each window."""
    picture = calendar_svg(result.plan.windows, result.usage, result.plan.risk)
    return typeset(_printed(result, PAPERS[paper]), picture)


def typeset(printed: Mapping[str, object], picture: str) -> bytes:
    """What is printed, set by the template of plans, as a tagged PDF."""
    import typst

    with _set(printed, picture) as compiler:
        try:
            return bytes(compiler.compile(format="pdf", pdf_standards=["ua-1"]))
        except typst.TypstError:  # a script without a font here: set with boxes, not refused
            return bytes(compiler.compile(format="pdf"))


def fits_one_page(printed: Mapping[str, object], picture: str) -> bool:
    """Whether what is printed takes no second page."""
    with _set(printed, picture) as compiler:
        return not isinstance(compiler.compile(format="svg"), list)


@contextmanager
def _set(printed: Mapping[str, object], picture: str) -> Iterator[Any]:
    """The compiler with template, picture and words in a folder of its own; it ships no types."""
    import typst

    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "plan.typ").write_bytes(TEMPLATE.read_bytes())
        (root / "calendar.svg").write_text(picture, encoding="utf-8")
        (root / "plan.json").write_text(json.dumps(printed), encoding="utf-8")
        yield typst.Compiler(str(root / "plan.typ"), root=str(root))


def _cell(page: Any, row: int, column: int, value: Any, kind: str, style: Any) -> None:  # noqa: ANN401
    """One cell; the writer of workbooks ships no types."""
    if value is None or (not isinstance(value, str) and pd.isna(value)):
        page.write_blank(row, column, None, style)
    elif kind == "date":
        page.write_datetime(row, column, pd.Timestamp(value).to_pydatetime(), style)
    elif kind == "text":
        page.write_string(row, column, clean(value), style)
    else:
        page.write_number(row, column, float(value) * (100 if kind == "chance" else 1), style)


def _png(picture: str) -> bytes:
    import vl_convert

    return bytes(vl_convert.svg_to_png(picture, scale=2.0))


def _printed(result: PlanResult, paper: str) -> dict[str, object]:
    about = result.about
    dated = f"As of {about['as_of']}, data version {about['data_version']}, {about['years']:g} years."
    vehicles = list(dict.fromkeys(result.plan.windows["vehicle"]))
    parts = [part for name in vehicles for part in _vehicle(result, str(name))]
    parts.append(part_of("What the plan assumes", 2, [], _assumptions_table(result)))
    return {
        "paper": paper,
        "title": "Overhaul plan: " + clean(", ".join(vehicles)),
        "subtitle": dated,
        "footer": f"milesleft, forecast {about['forecast']}",
        "alt": "Calendar: running by month, windows by depth, chance to stop by year.",
        "paragraphs": [caution_of(result)],
        "caution": caution_of(result),
        "parts": parts,
    }


def _vehicle(result: PlanResult, vehicle: str) -> list[dict[str, object]]:
    plan = result.plan
    windows = plan.windows[(plan.windows["vehicle"] == vehicle) & (plan.windows["lines"] > 0)]
    parts = [part_of(clean(vehicle), 2, [], _windows_table(result, windows), broken=True)]
    for key, words in (("late", _late_words(plan.late, vehicle)), ("missing", _missing_words(plan, vehicle))):
        if words:
            title = (
                "Planned late: past the accepted risk before any window comes"
                if key == "late"
                else "Not in the plan: examine at each opening"
            )
            parts.append(part_of(title, 3, words, None))
    sets = result.turnings[result.turnings["vehicle"] == vehicle]
    if len(sets):
        parts.append(
            part_of(f"Tires and rims, turned {sets['policy'].iloc[0]}", 3, [], _sets_table(sets, plan))
        )
    scope = plan.scope[plan.scope["vehicle"] == vehicle]
    points = plan.points[plan.points["vehicle"] == vehicle]
    first = windows["opens"].min() if len(windows) else pd.NaT
    for row in windows.to_dict("records"):
        window_scope = scope[scope["window"] == row["window"]]
        title = f"{clean(vehicle)}, {row['label']}: {DEPTH_WORDS.get(row['depth'], '')}"
        parts.append(part_of(title, 2, [], _scope_table(window_scope)))
        known = points[(points["window"] == row["window"]) & points["p50"].notna()]
        if row["opens"] <= first + NEAR and len(known):
            parts.append(part_of("Dimensions, now and when the window opens", 3, [], _points_table(known)))
    return parts


def part_of(
    title: str,
    level: int,
    paragraphs: Sequence[str],
    table: dict[str, object] | None,
    *,
    broken: bool = False,
) -> dict[str, object]:
    return {"title": title, "level": level, "paragraphs": list(paragraphs), "table": table, "break": broken}


def table_of(
    head: Sequence[str], widths: Sequence[float], right: Sequence[int], rows: list[list[str]]
) -> dict[str, object]:
    return {"head": list(head), "widths": list(widths), "right": list(right), "rows": rows}


def _windows_table(result: PlanResult, windows: pd.DataFrame) -> dict[str, object]:
    amounts = result.amounts
    known = amounts.set_index(["vehicle", "window"]) if len(amounts) else amounts
    rows = []
    for row in windows.to_dict("records"):
        key = (row["vehicle"], row["window"])
        amount = known.loc[key] if len(amounts) and key in known.index else None
        money = ["-", "-"] if amount is None else [f"{amount['p50']:,.0f}", f"{amount['p80']:,.0f}"]
        days = [f"{row[day]:%Y-%m-%d}" for day in ("opens", "closes")]
        counts = [
            str(row["lines"]),
            f"{row['labor_hours']:,.0f}",
            f"{row['days_needed']:.0f} of {row['days']}",
        ]
        today = f"{row['cost'] + row['opening_cost']:,.0f}"
        rows.append([row["label"], *days, DEPTH_WORDS.get(row["depth"], "-"), *counts, today, *money])
    head = ["window", "opens", "closes", "opened to", "lines", "hours", "days", "today's prices"]
    head += ["enough 5 times in 10", "enough 8 times in 10"]
    return table_of(head, [3, 2, 2, 2, 1, 1.3, 1.7, 2, 2, 2], [4, 5, 6, 7, 8, 9], rows)


def _assumptions_table(result: PlanResult) -> dict[str, object]:
    assumed = plan_assumptions(result.about)
    rows = [[str(cell) for cell in row] for row in assumed.to_numpy().tolist()]
    return table_of(["assumption", "value", "unit", "source"], [5, 2, 2, 4], [1], rows)


def _scope_table(scope: pd.DataFrame) -> dict[str, object]:
    rows = [
        [
            clean(row["component"]),
            clean(row["action"]),
            clean(row["position"]),
            f"{row['parts']}",
            _number(row["labor_hours"]),
            "no price" if pd.isna(row["cost"]) else f"{row['cost']:,.0f}",
            clean(row["reason"]),
            "",
        ]
        for row in scope.to_dict("records")
    ]
    head = ["component", "work", "positions", "parts", "hours", "price today", "why", "quoted"]
    return table_of(head, [2.2, 1.2, 3.2, 0.8, 0.9, 1.2, 5.2, 1.4], [3, 4, 5], rows)


def _sets_table(sets: pd.DataFrame, plan: Plan) -> dict[str, object]:
    rows = [[clean(cell) for cell in row] for row in set_rows(plan_sets(sets, plan.scope), set_miles)]
    return table_of([head.lower() for head in SET_HEADS], [2.5, 6, 1.2, 2, 1.2, 2], [2, 3, 4, 5], rows)


def _points_table(points: pd.DataFrame) -> dict[str, object]:
    rows = [
        [
            clean(row["component"]),
            clean(row["position"]),
            clean(row["quantity"]),
            clean(row["unit"]),
            _number(row["last_value"]),
            f"{row['last_date']:%Y-%m-%d}" if pd.notna(row["last_date"]) else "-",
            f"{_number(row['p50'])} ({_number(row['p10'])} to {_number(row['p90'])})",
            _number(row["new_value"]),
            _number(row["shop_limit"]),
            _number(row["condemning_limit"]),
            of_100(row["chance_by_next"]),
        ]
        for row in points.sort_values(["component", "position", "quantity"]).to_dict("records")
    ]
    head = [
        "component",
        "position",
        "quantity",
        "unit",
        "last",
        "measured",
        "at the window (8 times in 10)",
        "new",
    ]
    head += [
        "shop limit",
        "condemning limit",
        "times in 100 at its limit, or scrap with its set, by the next window",
    ]
    return table_of(head, [2.2, 2.2, 1.8, 0.8, 1, 1.5, 2.8, 1, 1, 1.2, 1.5], [4, 6, 7, 8, 9, 10], rows)


def _late_words(late: pd.DataFrame, vehicle: str) -> list[str]:
    rows = late[late["vehicle"] == vehicle].sort_values("chance", ascending=False)
    words = [
        f"{row['point']} {times_in_100(row['chance'])} by {row['label']}" for row in rows.to_dict("records")
    ]
    return [clean("; ".join(words)) + "."] if words else []


def _missing_words(plan: Plan, vehicle: str) -> list[str]:
    rows = plan.not_planned[plan.not_planned["vehicle"] == vehicle]
    words = [f"{row['point']} ({row['reason']})" for row in rows.to_dict("records")]
    return [clean("; ".join(words)) + "."] if words else []


def _number(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.4g}"
