"""Other railways that a store has learned from."""

import json
from typing import Any

import pandas as pd

from ingest.errors import NotPossible
from ingest.store import Store
from models.wear.fleet_pool import Sources
from models.wear.shared_prior import summary_of


def forget(store: Store, railway: str) -> None:
    """Use nothing of a railway from now on.

    Raises
    ------
    NotPossible : nothing was learned from a railway of that name.
    """
    known = sources_listed(store)
    kept = known[known["railway"] == railway]
    if kept.empty:
        names = ", ".join(known["railway"]) or "nobody"
        raise NotPossible(f"Nothing was learned from '{railway}'. Learned from: {names}.")
    about = {"railway": railway, "fingerprint": kept["fingerprint"].iloc[0], "made_on": "", "families": 0}
    store.save_run("shared", about, {})


def sources_listed(store: Store, version: int | None = None) -> pd.DataFrame:
    """The last file of each railway: run_id, railway, fingerprint, made_on, families; none forgotten."""
    rows = files_kept(store)
    kept = [row for row in rows if version is None or row["data_version"] <= version]
    columns = ["run_id", "railway", "fingerprint", "made_on", "families"]
    table = pd.DataFrame(kept, columns=columns).drop_duplicates("railway")  # newest first
    return table[table["families"] > 0].reset_index(drop=True)


def sources_of(store: Store, version: int | None = None) -> Sources | None:
    """What forecasts of a store may use of others; None where it learned from nobody."""
    listed = sources_listed(store, version)
    if listed.empty:
        return None
    read = [summary_of(store.read_run(str(run), "families")) for run in listed["run_id"]]
    return Sources(tuple(summary for summary, _ in read), tuple(keys for _, keys in read))


def files_kept(store: Store) -> list[dict[str, Any]]:
    """What is known of all files ever kept, newest first."""
    runs = store.runs("shared")
    return [
        {**json.loads(about), "run_id": run, "data_version": version}
        for run, about, version in zip(runs["run_id"], runs["about"], runs["data_version"], strict=True)
    ]
