"""The pages in a real browser: nothing goes wrong, and nobody is shut out by how they see or type."""

import re

import pytest

pytestmark = pytest.mark.browser

VIEWS = {
    "": "What will stop us first?",
    "point?point=Q-D2L-HOLLOW": "driver tire – tread hollow",
    "engine": "Readings at the engine",
    "batch": "Is this batch right?",
    "batch?part=held": "Is this batch right?",
    "batch?part=layout": "Is this batch right?",
    "batch?part=again": "Is this batch right?",
    "batch?part=moved": "Is this batch right?",
    "batch?part=batches": "Is this batch right?",
    "fit": "Does it still fit together?",
    "fit?part=tires": "Does it still fit together?",
    "fit?part=boxes": "Does it still fit together?",
    "fit?part=due": "Does it still fit together?",
    "opening": "What did the opening show?",
    "parts": "Where are our parts?",
    "facts": "What is known of each vehicle?",
    "window": "When do we open it, and what is in it?",
    "case": "What does it cost, and why now?",
    "record": "How good were our forecasts?",
    "how": "How a forecast is made",
    "words": "What the words mean",
}

# Findings of axe that are in what Streamlit itself draws, and that we cannot reach from here.
STREAMLITS_OWN = {
    # The grid of st.dataframe is a canvas; its scroller holds nothing that takes the focus, its table does.
    "scrollable-region-focusable": '[data-testid="stDataFrame"]',
}


def stem(path):
    return re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-") or "first"


def serious(page):
    """What axe finds serious or critical on the page, Streamlit's own left out."""
    from axe_playwright_python.sync_playwright import Axe

    found = []
    for violation in Axe().run(page).response["violations"]:
        if violation["impact"] not in ("serious", "critical"):
            continue
        for node in violation["nodes"]:
            own = STREAMLITS_OWN.get(violation["id"])
            if not (own and page.locator(own).locator(node["target"][-1]).count()):
                found.append(f"{violation['id']}: {node['html'][:160]} ({node['failureSummary'][:160]})")
    return found


@pytest.mark.parametrize("width", ["desk", "phone"])
@pytest.mark.parametrize("path", VIEWS)
def test_each_page_opens_clean_and_reaches_everybody(served, browser_page, path, width):
    page = browser_page(width)
    page.open(f"{served}/{path}")
    page.page.get_by_role("heading", name=VIEWS[path], level=1).wait_for()
    page.page.get_by_text("never replaces inspection by qualified people").wait_for()
    page.whole(f"{stem(path)}-{width}")
    wide = page.page.evaluate("() => document.querySelector('[data-testid=stMain]').scrollWidth")
    assert wide <= page.page.viewport_size["width"]  # nothing to be scrolled sideways to
    assert serious(page.page) == []
