"""Undo of a whole batch, the check that what is left is whole, and what each batch did."""

import json

import pandas as pd

from ingest.errors import NotPossible
from ingest.names.points import by_point
from ingest.store import Store
from ingest.store.mileage import carry_on, place
from ingest.store.transaction import Transaction
from ingest.verdicts.judge import NAMED_IN


def undo(store: Store, batch: int, who: str = "", why: str = "") -> int:
    """Take back everything that a batch did: its rows no longer hold, what it retracted holds again.

    Returns
    -------
    int : the batch of the undo. Versions before it read as they always did.

    Raises
    ------
    NotPossible : there is no such batch, it was undone already, later batches build on it (the message
        names them), or no reason is given.
    """
    must_tell(why)
    with store.transaction("undo", who, {"undone": batch, "reason": why}) as transaction:
        batches = transaction.batches()
        undone = {json.loads(text)["undone"] for text in batches.loc[batches["command"] == "undo", "about"]}
        row = batches[batches["batch"] == batch]
        if row.empty:
            raise NotPossible(f"There is no batch {batch}. 'milesleft undo' without a number lists them.")
        if row["command"].iloc[0] == "undo" or batch in undone:
            raise NotPossible(f"Batch {batch} is an undo or undone already. Add the files again instead.")
        undos = set(batches.loc[batches["command"] == "undo", "batch"])
        later = [n for n in transaction.changed_since(batch) if n not in undone | undos]
        if later:
            listed = ", ".join(map(str, later))
            raise NotPossible(f"Later batches changed rows of batch {batch}. Undo them first: {listed}.")
        before = transaction.stored()
        transaction.undo(batch)
        check_whole(transaction, before)
        return transaction.batch


def check_whole(batch: Transaction, before: dict[str, pd.DataFrame]) -> None:
    """What is stored must still be whole: every reading has its wear point and its miles.

    Parameters
    ----------
    before : rows of every table before the change. A reading whose day lay in the log must not lie after its
        end now.

    Raises
    ------
    NotPossible : something would be left without what it refers to; the message names the first.
    """
    known = batch.stored()
    points = by_point(known["wear_points"])["vehicle"]
    for table in ("readings", "work"):
        orphans = known[table][~known[table]["point"].isin(points.index)]
        if len(orphans):
            raise NotPossible(
                f"{len(orphans)} rows of {table} would lose their wear point ({orphans['point'].iloc[0]}). "
                "Undo or withdraw them first."
            )
    for column, named_in in NAMED_IN.items():
        _check_named(column, named_in, known)
    had = set(known["readings"]["row_id"]) - set(_without_miles(before)["row_id"])
    lost = _without_miles(known)
    lost = lost[lost["row_id"].isin(had)]
    if len(lost):
        raise NotPossible(
            f"{len(lost)} readings would lose their miles, as they took them from this mileage log "
            f"(the first: {lost['point'].iloc[0]} on {lost['date'].iloc[0]:%Y-%m-%d}). "
            "Undo or withdraw them first."
        )


def _check_named(column: str, named_in: str, known: dict[str, pd.DataFrame]) -> None:
    """Rows that name a part or an opening must still find it, unless the whole table was taken back."""
    names = known[named_in][column]
    for table, rows in known.items():
        if names.empty or column == "vehicle" or column not in rows or table == named_in:
            continue
        lost = rows[(rows[column] != "") & ~rows[column].isin(names)]
        if len(lost):
            raise NotPossible(
                f"{len(lost)} rows of {table} would lose what they name: {lost[column].iloc[0]} of the table "
                f"{named_in}. Undo or withdraw them first."
            )


def _without_miles(known: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Readings for whose day the log says nothing and that note no odometer themselves."""
    vehicle = known["readings"]["point"].map(by_point(known["wear_points"])["vehicle"])
    placed = place(known["readings"].assign(vehicle=vehicle), carry_on(known["mileage"]))
    return known["readings"][placed["odometer"].isna() | (placed["odometer_source"] == "last entry")]


def must_tell(reason: str) -> None:
    """Refuse a correction without a reason."""
    if not reason.strip():
        raise NotPossible("A correction needs a reason: it is kept with it. Say why.")


COUNTS = ["brought", "hold", "taken", "held", "settled"]


def batch_list(store: Store) -> pd.DataFrame:
    """Batches, newest first.

    Returns
    -------
    Frame: batch, made_at (UTC), who, command, about (JSON), brought (rows that it stored), hold (of these,
    rows that still do), taken (stored rows that it took back), held (rows held back), settled (held rows
    settled), undone_in (batch of its undo; 0 if it was not undone).
    """
    with store.at_once() as state:
        batches, counts = state.batches(), state.batch_counts()
    undone_in = {
        int(json.loads(about)["undone"]): int(batch)
        for batch, command, about in batches[["batch", "command", "about"]].itertuples(index=False)
        if command == "undo"
    }
    counted = counts.reindex(batches["batch"]).fillna(0).astype("int64").set_axis(batches.index, axis=0)
    return batches.assign(
        **{name: counted[name] for name in COUNTS},
        undone_in=batches["batch"].map(undone_in).fillna(0).astype("int64"),
    )
