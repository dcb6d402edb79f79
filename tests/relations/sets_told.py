"""What each part says of the matched sets of a plan: print, workbook, PDF, pages of plan and tires."""

import re
from html import unescape
from io import BytesIO
from pathlib import Path

import numpy as np
import openpyxl
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest

from dashboard.papers.plan_documents import plan_pdf, workbook
from dashboard.papers.plan_text import as_text

APP = str(Path(__file__).parents[2] / "dashboard" / "app.py")
FIGURES = {
    "turnings left, middle": "turnings_p50",
    "half after": "miles_p50",
    "new set: turnings, middle": "next_turnings_p50",
    "on average": "next_turnings_mean",
    "new set: miles to scrap, half after": "next_life_p50",
}


def miles(value: float) -> str:
    return f"{value:,.0f} mi" if np.isfinite(value) else "beyond"


def figures(row: dict) -> list[str]:
    """Turnings left, miles, and those of the next set, as a reader sees them."""
    return [
        f"{row['turnings_p50']:.0f}",
        miles(row["miles_p50"]),
        f"{row['next_turnings_p50']:.0f}",
        miles(row["next_life_p50"]),
    ]


def printed(result) -> dict[str, list[str]]:
    """From the print of the plan: by set, its figures."""
    text = as_text(result)
    found = re.findall(
        r"^    (\S.*?) +(\d+) +([\d,]+ mi|beyond) +(\d+) +([\d,]+ mi|beyond)$", text, flags=re.MULTILINE
    )
    return {name: list(rest) for name, *rest in found}


def in_pdf(result) -> str:
    """The words of the printed plan."""
    pages = PdfReader(BytesIO(plan_pdf(result))).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def in_workbook(result) -> dict[str, dict]:
    """From the workbook: by set, its cells by their heading."""
    rows = list(
        openpyxl.load_workbook(BytesIO(workbook(result)))["Tires and rims"].iter_rows(values_only=True)
    )
    head = rows[0]
    return {row[head.index("set")]: dict(zip(head, row, strict=True)) for row in rows[1:]}


def shown(db: Path, view: str, monkeypatch, **choices: str) -> tuple[list[list[str]], str]:
    """A page: cells of the rows of its short tables, and its texts."""
    monkeypatch.setenv("MILESLEFT_DB", str(db))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    app = AppTest.from_file(APP, default_timeout=120)
    app.run()
    app.switch_page(f"views/{view}.py")
    for name, value in choices.items():
        app.query_params[name] = value
    app.run()
    assert not app.exception, app.exception
    tables = "".join(element.proto.body for element in app.get("html"))
    rows = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in re.findall(r"<tr.*?</tr>", tables)]
    text = "\n".join(element.value for element in app.markdown).replace("\\", "").replace("\u2060", "")
    return [[unescape(cell).replace("\u2060", "") for cell in row] for row in rows], text
