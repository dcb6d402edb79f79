"""What the commands say of checks, boxes and inspections stands on the pages too, with its sources."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from pages.without_browser import opened, said
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard.cli import main
from dashboard.services.shop_checks import shop_findings
from dashboard.words.checks_text import HEADS, finding_reasons
from dashboard.words.records import as_records
from ingest.store import Store
from models.checks.findings_frame import OUT, UNTOLD, WITHIN


@pytest.fixture
def pages(demo_store, monkeypatch):
    monkeypatch.setenv("MILESLEFT_DB", str(demo_store))
    monkeypatch.delenv("MILESLEFT_ROLES", raising=False)
    return AppTest.from_file(Path(dashboard.__file__).with_name("app.py"), default_timeout=120)


def printed(*words):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == 0, result.output
    return result.output


def reasons(text):
    """Indented lines under each entry: how it was found, its source, what was noted."""
    return [line.strip() for line in text.splitlines() if re.match(r" {4,}\S", line)]


def test_every_reason_of_a_check_stands_on_the_page(pages, demo_store):
    page = said(opened(pages, "fit"))
    lines = reasons(printed("checks", "--db", demo_store, "--all"))
    assert len(lines) > 10
    on_boxes = said(opened(pages, "fit", part="boxes"))
    assert [line for line in lines if line not in page and line not in on_boxes] == []


def test_every_source_and_note_of_an_inspection_stands_on_the_page(pages, demo_store):
    page = said(opened(pages, "fit", part="due"))
    lines = reasons(printed("clocks", "--db", demo_store))
    assert any("its text was not" in line for line in lines)
    assert [line for line in lines if line not in page] == []


def test_what_is_past_a_limit_stands_first_everywhere(pages, demo_store):
    store = Store(demo_store)
    findings = shop_findings(store.read_all("wear_points", "readings", "work", "facts"))
    out = findings[findings["verdict"].isin(OUT)]
    assert len(out) > 2
    assert findings["verdict"].isin(OUT).to_numpy()[: len(out)].all()
    first, fit = said(opened(pages, "first")), said(opened(pages, "fit"))
    for row in as_records(out):
        assert finding_reasons(row) in fit
        if "," in str(row["points"]):  # of several wear points, none of which is past a limit of its own
            assert finding_reasons(row) in first
    assert fit.index(HEADS[out["verdict"].iloc[0]]) < fit.index(HEADS[WITHIN])
    assert "Met:" not in fit


def test_nothing_past_its_limit_is_said_to_be_untold(demo_store):
    store = Store(demo_store)
    findings = shop_findings(store.read_all("wear_points", "readings", "work", "facts"))
    untold = findings[findings["verdict"] == UNTOLD]
    for row in untold.to_dict("records"):
        past = row["found"] - row["limit"] if row["bound"] == "max" else row["limit"] - row["found"]
        assert not past > 1e-6, row
    per_check = findings.groupby(["vehicle", "check", "position", "points", "bound", "tier"])["verdict"]
    assert per_check.nunique().eq(1).all()
