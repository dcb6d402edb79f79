"""Stores a batch through a page of the dashboard, and says when it begins to; it is killed meanwhile.

Called with the store and what to do: ``upload`` a file of readings, or keep and save one ``engine`` reading.
"""

import os
import sys
from pathlib import Path

from streamlit.testing.v1 import AppTest

APP = Path(__file__).parents[3] / "dashboard" / "app.py"
MANY = 400
"""Readings of an upload: as many days of one wear point."""


def main(db: str, what: str) -> None:
    """Go to the page, do all but the last click, say so, and click."""
    os.environ["MILESLEFT_DB"] = db
    page = AppTest.from_file(str(APP), default_timeout=120).run()
    view, button = {"upload": ("batch", "Add these files"), "engine": ("engine", "Save 1 as a batch")}[what]
    page.switch_page(f"views/{view}.py").run()
    (upload if what == "upload" else keep_one)(page)
    assert not page.exception, page.exception
    last = next(found for found in page.button if found.label == button)
    print("now", flush=True)
    last.click().run()
    assert not page.exception, page.exception
    print("done", flush=True)


def upload(page: AppTest) -> None:
    """Choose a file of many readings."""
    days = [f"2022-{1 + n // 28 % 12:02d}-{1 + n % 28:02d}" for n in range(336)]
    rows = [f"N-XH-L,{day},0.05,in,{n}" for n, day in enumerate(days)]
    rows += [f"N-XH-R,{day},0.05,in,{n}" for n, day in enumerate(days[: MANY - 336])]
    text = "point,date,value,unit,note\n" + "\n".join(rows)
    page.file_uploader(key="batch-files").upload("many.csv", text.encode()).run()


def keep_one(page: AppTest) -> None:
    """Keep one reading at the engine."""
    page.session_state["engine-gear-Nettle"] = {"place": "0:driver-2-L"}
    page.run()
    page.number_input(key="engine-odometer-Nettle").set_value(9100.0).run()
    page.text_input(key="engine-value-N-D2L-HOLLOW").set_value("19/64").run()
    next(found for found in page.button if found.label == "Keep this reading").click().run()


if __name__ == "__main__":
    main(*sys.argv[1:])
