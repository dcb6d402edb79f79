"""Papers that are tables: one description of them, printed as PDF and written as a workbook."""

import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.papers.brief_svg import clean
from dashboard.papers.plan_documents import PAPERS, TEMPLATE
from ingest.writing import TEXTS_STAY

Cell = str | float | pd.Timestamp | None
"""NaN or NaT: not known, a dash; None: left empty, for a pen."""
Column = tuple[str, str, float]
"""Heading, kind (text, number, money, date), width in characters."""
FORMATS = {"number": "#,##0.####", "money": "#,##0", "date": "yyyy-mm-dd"}


@dataclass(frozen=True)
class PaperTable:
    """One table: its title, columns, rows of cells in their order, and sentences over it."""

    title: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[Cell]]
    words: Sequence[str] = ()


@dataclass(frozen=True)
class Paper:
    """A paper of tables. ``caution`` stands on every page."""

    title: str
    subtitle: str
    caution: str
    tables: Sequence[PaperTable]


def paper_pdf(paper: Paper, *, size: str = "a4") -> bytes:
    """The paper as a PDF."""
    import typst

    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "plan.typ").write_bytes(TEMPLATE.read_bytes())
        (root / "plan.json").write_text(json.dumps(_printed(paper, PAPERS[size])), encoding="utf-8")
        compiler: Any = typst.Compiler(str(root / "plan.typ"), root=str(root))
        return bytes(compiler.compile(format="pdf"))


def paper_workbook(paper: Paper) -> bytes:
    """The paper as a workbook, a sheet for each table; text stays text."""
    import xlsxwriter

    made = BytesIO()
    with xlsxwriter.Workbook(made, TEXTS_STAY | {"strings_to_numbers": False}) as book:
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        styles = {
            kind: book.add_format({"num_format": form, "valign": "top"}) for kind, form in FORMATS.items()
        }
        styles["text"] = book.add_format({"text_wrap": True, "valign": "top"})
        for table, name in zip(paper.tables, _sheet_names(paper.tables), strict=True):
            page = book.add_worksheet(name)
            page.freeze_panes(1, 0)
            for column, (heading, kind, width) in enumerate(table.columns):
                page.set_column(column, column, width)
                page.write_string(0, column, heading, head)
                for row, cells in enumerate(table.rows):
                    _write(page, row + 1, column, cells[column], kind, styles[kind])
            for place, words in enumerate((*table.words, paper.caution)):
                page.write_string(len(table.rows) + 2 + place, 0, clean(words))
            page.set_footer(f"&L&8{paper.caution[:200]}")
            page.set_landscape()
            page.fit_to_pages(1, 0)
            page.repeat_rows(0)
    return made.getvalue()


def _write(page: Any, row: int, column: int, value: Cell, kind: str, style: Any) -> None:  # noqa: ANN401
    """One cell; the writer of workbooks ships no types."""
    if value is None or (not isinstance(value, str) and pd.isna(value)):
        page.write_blank(row, column, None, style)
    elif kind == "date" and isinstance(value, pd.Timestamp):
        page.write_datetime(row, column, value.to_pydatetime(), style)
    elif kind == "text":
        page.write_string(row, column, clean(str(value)), style)
    else:
        page.write_number(row, column, float(value), style)


def _sheet_names(tables: Sequence[PaperTable]) -> list[str]:
    """Names of sheets: at most 31 characters, none of those that Excel refuses, each once."""
    names: list[str] = []
    for number, table in enumerate(tables, start=1):
        plain = "".join(" " if sign in "[]:*?/\\'" else sign for sign in clean(table.title))[:26].strip()
        names.append(plain if plain and plain.lower() not in map(str.lower, names) else f"{plain} {number}")
    return names


def _printed(paper: Paper, size: str) -> dict[str, object]:
    return {
        "paper": size,
        "title": clean(paper.title),
        "subtitle": clean(paper.subtitle),
        "footer": "milesleft",
        "alt": "",
        "paragraphs": [clean(paper.caution)],
        "caution": clean(paper.caution),
        "parts": [_part(table) for table in paper.tables],
    }


def _part(table: PaperTable) -> dict[str, object]:
    right = [place for place, (_, kind, _) in enumerate(table.columns) if kind in ("number", "money")]
    shown = {
        "head": [heading for heading, _, _ in table.columns],
        "widths": [width for _, _, width in table.columns],
        "right": right,
        "rows": [
            [_text(cell, kind) for cell, (_, kind, _) in zip(row, table.columns, strict=True)]
            for row in table.rows
        ],
    }
    words = [clean(line) for line in table.words] or ([] if table.rows else ["Nothing is on record."])
    return {
        "title": clean(table.title),
        "level": 2,
        "paragraphs": words,
        "table": shown if table.rows else None,
        "break": False,
    }


def _text(cell: Cell, kind: str) -> str:
    if cell is None:
        return ""
    if not isinstance(cell, str) and pd.isna(cell):
        return "-"
    if isinstance(cell, pd.Timestamp):
        return f"{cell:%Y-%m-%d}"
    if isinstance(cell, str):
        return clean(cell)
    return f"{cell:,.0f}" if kind == "money" else f"{cell:.5g}"
