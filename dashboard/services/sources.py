"""Other railways that a store has learned from."""

import json
import unicodedata
from typing import Any

import pandas as pd

from ingest.errors import NotPossible
from ingest.neutral import harmless, quoted
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
    kept = known[[_same(name) == _same(harmless(railway)) for name in known["railway"]]]
    if kept.empty:
        names = ", ".join(known["railway"]) or "nobody"
        raise NotPossible(f"Nothing was learned from {quoted(railway)}. Learned from: {names}.")
    about = {"railway": kept["railway"].iloc[0], "fingerprint": kept["fingerprint"].iloc[0]}
    store.save_run("shared", {**about, "made_on": "", "families": 0}, {})


def sources_listed(
    store: Store, version: int | None = None, as_of: pd.Timestamp | None = None
) -> pd.DataFrame:
    """The newest file of each railway by the day on which it was made: run_id, railway, fingerprint, made_on,
    families; none forgotten. With ``as_of`` only files that were made by that day."""
    rows = [row for row in files_kept(store) if version is None or row["data_version"] <= version]
    if as_of is not None:
        rows = [row for row in rows if not row["made_on"] or pd.Timestamp(row["made_on"]) <= as_of]
    newest: dict[str, dict[str, Any]] = {}
    forgotten: set[str] = set()
    for row in rows:  # the last that was taken first
        name = _same(row["railway"])
        if row["families"] == 0:
            forgotten.add(name)
        elif name not in forgotten and (name not in newest or row["made_on"] > newest[name]["made_on"]):
            newest[name] = row
    columns = ["run_id", "railway", "fingerprint", "made_on", "families"]
    return pd.DataFrame(list(newest.values()), columns=columns)


def last_of(store: Store, railway: str) -> dict[str, Any] | None:
    """What was last taken of a railway, or that it was forgotten; None for one that was never known."""
    return next((row for row in files_kept(store) if _same(row["railway"]) == _same(railway)), None)


def _same(railway: str) -> str:
    """What must be equal for two spellings to be one railway's name."""
    return " ".join(unicodedata.normalize("NFKC", railway).casefold().split())


def sources_of(store: Store, version: int | None = None, as_of: pd.Timestamp | None = None) -> Sources | None:
    """What forecasts of a store, made of a day, may use of others; None where it learned from nobody."""
    listed = sources_listed(store, version, as_of)
    if listed.empty:
        return None
    read = [summary_of(store.read_run(str(run), "families")) for run in listed["run_id"]]
    return Sources(tuple(summary for summary, _ in read), tuple(keys for _, keys in read))


def files_kept(store: Store) -> list[dict[str, Any]]:
    """What is known of all files ever kept, newest first."""
    runs = store.runs("shared")
    return [
        {**harmless(json.loads(about)), "run_id": run, "data_version": version}
        for run, about, version in zip(runs["run_id"], runs["about"], runs["data_version"], strict=True)
    ]
