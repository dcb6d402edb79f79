"""Pictures of one wear point, newest first."""

import pandas as pd
import streamlit as st

from dashboard.screen import data, show
from ingest.errors import StoreProblem

_SHOWN = 6
"""Pictures that are shown at once."""


def pictures(point: str) -> None:
    """The newest pictures that show the wear point, with the day, who took them and their note."""
    table = data.table("pictures")
    taken = table[table["point"] == point].sort_values("date", ascending=False, kind="stable")
    if taken.empty:
        return
    st.subheader("Pictures")
    columns = st.columns(3)
    for place, row in enumerate(taken.head(_SHOWN).to_dict("records")):
        with columns[place % len(columns)]:
            try:
                content = data.picture(str(row["picture"]))
            except StoreProblem as error:
                st.caption(show.plain(error))
                continue
            st.image(content, caption=show.plain(_said(row)))
    if len(taken) > _SHOWN:
        st.caption(f"The newest {_SHOWN} of {len(taken):,}.")


def _said(row: dict[object, object]) -> str:
    day = pd.Timestamp(str(row["date"]))
    parts = ["" if pd.isna(day) else f"{day:%-d %b %Y}", str(row["taken_by"]), str(row["note"])]
    return " · ".join(part for part in parts if part)
