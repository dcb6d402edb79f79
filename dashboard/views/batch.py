"""Is this batch right?"""

import streamlit as st

from dashboard.screen import data, show, state
from dashboard.screen.here import ALL, heading
from dashboard.sections import held_rows, layouts, taking_in, unexpected_parts
from dashboard.sections.moved import moved

PARTS = {
    "add": "Add files",
    "layout": "A sheet of another make",
    "held": "Held back",
    "again": "Measure again",
    "moved": "What moved",
    "batches": "Batches",
}
MOVED = {
    "what": "What",
    "vehicle": "Vehicle",
    "position": "Position",
    "component": "Component",
    "quantity": "Quantity",
    "before": "Half within, before",
    "expected": "Of that left now",
    "after": "Half within, now",
    "change": "Change",
}


def page() -> None:
    heading("Is this batch right?")
    waiting = held_rows.waiting()
    words = {**PARTS, "held": f"Held back ({len(waiting):,})"}
    part = state.pick(
        st.segmented_control,
        "Part",
        list(PARTS),
        "part",
        words=words.__getitem__,
        label_visibility="collapsed",
        required=True,
    )
    if part == "add":
        taking_in.add_page()
    elif part == "layout":
        layouts.page()
    elif part == "held":
        held_rows.page(waiting)
    elif part == "again":
        again_page()
    elif part == "moved":
        moved_page()
    elif data.exists():
        taking_in.batches_page()


def again_page() -> None:
    """Readings that wait for a second one."""
    if data.exists() and (point := unexpected_parts.page(state.units())):
        state.go("views/point.py", point=point)


def moved_page() -> None:
    """What the newest forecast says otherwise than an earlier one."""
    runs = data.runs("forecast") if data.exists() else None
    if runs is None or len(runs) < 2:
        st.info(
            "There is only one forecast so far. Add a batch and forecast again: what moves is listed here."
        )
        return
    made = {
        str(row["run_id"]): f"made {row['made_at']:%-d %b %Y, %H:%M}, data version {row['data_version']}"
        for row in runs.to_dict("records")
    }
    ids = list(made)
    left, right = st.columns(2)
    with left:
        after = state.pick(st.selectbox, "This forecast", ids[:-1], "after", words=made.__getitem__)
    with right:
        earlier = ids[ids.index(after) + 1 :]
        before = state.pick(st.selectbox, "against this one", earlier, "before", words=made.__getitem__)
    changes = moved(data.forecast(before), data.forecast(after))
    vehicle = state.chosen(state.VEHICLE)
    changes = changes if vehicle == ALL else changes[changes["vehicle"] == vehicle]
    sooner, later = (changes["what"] == "sooner").sum(), (changes["what"] == "later").sum()
    if changes.empty:
        st.success("Nothing moved by more than a tenth.")
        return
    st.markdown(
        f"Sooner at the limit than thought: **{sooner}** wear points, later: **{later}**. The miles run "
        "in between are taken off."
    )
    units = state.units()
    shown = changes.assign(
        **{name: units.miles(changes[name]).round(-1) for name in ("before", "expected", "after", "change")}
    )
    heads = {
        name: f"{word} [{units.distance}]" if name in ("before", "expected", "after", "change") else word
        for name, word in MOVED.items()
    }
    picked = show.table(
        shown,
        "what-moved",
        words=heads,
        alt_text="Wear points whose forecast moved, sooner first",
        pick="moved-table",
    )
    if picked is not None:
        state.go("views/point.py", point=str(changes["point"].iloc[picked]))


page()
