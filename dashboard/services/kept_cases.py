"""Cases kept in the store, and which of them is shown to donors: a step of its own, never a consequence."""

import json

import pandas as pd

from ingest.store import Store

KEPT, SHOWN, WITHDRAWN = "kept", "shown", "withdrawn"
STATE_WORDS = {KEPT: "kept", SHOWN: "shown to donors", WITHDRAWN: "taken back"}


def kept_cases(runs: pd.DataFrame, decisions: pd.DataFrame) -> pd.DataFrame:
    """Cases that can be shown, newest first.

    Parameters
    ----------
    runs, decisions : of the kind case, newest first.

    Returns
    -------
    run_id, name, made_at, state (of ``STATE_WORDS``), decided (number of the last decision, 0 for none).
    Those kept without their brief are left out: there is nothing frozen to show.
    """
    about = [json.loads(text) if isinstance(text, str) else dict(text or {}) for text in runs["about"]]
    last = decisions.drop_duplicates("run_id").set_index("run_id").astype(object)
    run = runs["run_id"].astype(str)
    table = pd.DataFrame(
        {
            "run_id": run,
            "name": [str(said.get("name") or said.get("vehicle", "")) for said in about],
            "made_at": runs["made_at"],
            "state": run.map(last["state"]).astype(object).where(run.isin(last.index), KEPT),
            "decided": pd.to_numeric(run.map(last["decision_id"])).fillna(0).astype("int64"),
        }
    )
    frozen = pd.Series([bool(said.get("frozen")) for said in about], index=table.index, dtype=bool)
    return table[frozen].reset_index(drop=True)


def shown_to_donors(cases: pd.DataFrame) -> str | None:
    """Run of the case that donors see: the one shown last and not taken back since."""
    shown = cases[cases["state"] == SHOWN].sort_values("decided", ascending=False, kind="stable")
    return str(shown["run_id"].iloc[0]) if len(shown) else None


def decide_on_case(store: Store, run: str, name: str, state: str, *, who: str = "") -> None:
    """Show a kept case to donors, or take it back."""
    store.decide_on("case", name or run, state, run, who=who)
