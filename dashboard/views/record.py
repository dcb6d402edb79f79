"""How good were our forecasts?"""

import streamlit as st

from dashboard.screen import address, data
from dashboard.screen.in_view import heading, nothing_yet, person, run_in_view
from dashboard.sections.record import answer, families, opened, pictures, quantities, together


def page() -> None:
    heading("How good were our forecasts?")
    run = run_in_view()
    if run is None:
        nothing_yet()
        return
    runs = data.runs("score")
    if runs.empty:
        st.info(
            "Nothing has been scored yet. Scoring goes back to several past days, forecasts from what was "
            "known then, and compares that with what came. It takes about a minute."
        )
    else:
        run_id, made = str(runs["run_id"].iloc[0]), runs["made_at"].iloc[0]
        st.markdown(f"scored {made:%-d %B %Y}")
        answer(run_id)
        pictures(run_id)
        together(run)
        quantities(run_id)
        opened(run_id, address.units())
        families(run_id)
    if person().may("plan") and st.button("Score now" if runs.empty else "Score again"):
        from dashboard.services.scoring import (
            run_score,  # the models take a second to import: only when asked
        )

        with st.spinner("Forecasting again from past days …"):
            run_score(data.store())
        st.rerun()


page()
