"""Is this batch right?"""

import pandas as pd

from dashboard.intake import correct_many, sheets_in
from dashboard.screen import address, data
from dashboard.screen.in_view import heading, run_in_view
from dashboard.sections import held_rows, moved, taking_in, unexpected
from dashboard.sections.alarms import alarm_table

PARTS = {
    "add": "Add files",
    "held": "Held back",
    "again": "Measure again",
    "many": "Correct many",
    "moved": "What moved",
    "batches": "Batches",
}


def page() -> None:
    heading("Is this batch right?")
    waiting = held_rows.waiting()
    part = address.section(PARTS, {"held": f"Held back ({len(waiting):,})"})
    if part == "add":
        sheets_in.page()
    elif part == "held":
        held_rows.page(waiting)
    elif part == "again":
        again_page()
    elif part == "many":
        if data.exists():
            correct_many.page()
    elif part == "moved":
        moved.page()
    elif data.exists():
        taking_in.batches_page()


def again_page() -> None:
    """Readings that wait for a second one, and the alarms of the newest forecast."""
    if not data.exists():
        return
    waiting = unexpected.page(address.units())
    run = run_in_view()
    alarms = data.alarms(run) if run is not None else pd.DataFrame()
    if point := waiting or alarm_table(alarms, address.units(), "alarms-again"):
        address.go("views/point.py", point=point)


page()
