"""Stores a batch through a page of the dashboard, again and again, and kills each when it is told to.

Called with the store: a file of readings is uploaded. Says that all but the last click is done, then waits
for lines: each is how long after the click [s] the process that clicks is killed, or nothing if it is to end;
the answer is whether it had ended, and how long it took [s]. Each click is that of a process forked for it:
the page is made ready once.
"""

import os
import signal
import sys
import time
from pathlib import Path

from streamlit.testing.v1 import AppTest

APP = Path(__file__).parents[3] / "dashboard" / "app.py"
MANY = 400
"""Readings of an upload: as many days of one wear point."""


def main(db: str) -> None:
    """Go to the page, do all but the last click, say so, and click for each line that comes in."""
    os.environ["MILESLEFT_DB"] = db
    page = AppTest.from_file(str(APP), default_timeout=120).run()
    page.switch_page("views/batch.py").run()
    upload(page)
    assert not page.exception, page.exception
    print("ready", flush=True)
    for line in sys.stdin:
        began = time.perf_counter()
        child = os.fork()
        if not child:
            click(page, "Add these files")
        if line.strip():
            time.sleep(float(line))
            os.kill(child, signal.SIGKILL)
        done = os.waitpid(child, 0)[1] == 0
        print(int(done), time.perf_counter() - began, flush=True)


def click(page: AppTest, button: str) -> None:
    """The last click, of a process that ends with it; 0 if all went well."""
    code = 1
    try:
        next(found for found in page.button if found.label.startswith(button)).click().run()
        code = int(bool(page.exception))
    finally:
        os._exit(code)


def upload(page: AppTest) -> None:
    """Choose a file of many readings."""
    days = [f"2022-{1 + n // 28 % 12:02d}-{1 + n % 28:02d}" for n in range(336)]
    rows = [f"N-XH-L,{day},0.05,in,{n}" for n, day in enumerate(days)]
    rows += [f"N-XH-R,{day},0.05,in,{n}" for n, day in enumerate(days[: MANY - 336])]
    text = "point,date,value,unit,note\n" + "\n".join(rows)
    page.file_uploader(key="batch-files").upload("many.csv", text.encode()).run()


if __name__ == "__main__":
    main(*sys.argv[1:])
