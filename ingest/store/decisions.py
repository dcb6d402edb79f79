"""What was decided about plans and cases: rows that are added and never changed.

A decision names a run, whose frames are the frozen content: what is made anew from present data is another
run, and takes a decision of its own to stand in its place. Decisions are no data: they leave the data version
as it is, so that a forecast is not out of date because a plan was approved.
"""

from datetime import UTC, datetime

import pandas as pd

from ingest.errors import NotPossible
from ingest.store.frames import to_pandas
from ingest.store.sql import statement
from ingest.store.transaction import Connection

STATES = {
    "plan": ("what_if", "proposed", "approved", "withdrawn"),
    "case": ("kept", "shown", "withdrawn"),
}
"""Kind of run -> states that may be decided. A case that is shown is shown to donors."""
COLUMNS = ["decision_id", "kind", "name", "state", "run_id", "who", "made_at", "note"]


def decide_on(connection: Connection, decision: dict[str, str]) -> int:
    """Add a decision within the open transaction; its number.

    Parameters
    ----------
    decision : kind, name, state, run_id, who, note.

    Raises
    ------
    NotPossible : no such kind or state, no name, or no such run of that kind.
    """
    kind, name, state = decision["kind"], decision["name"], decision["state"]
    if state not in STATES.get(kind, ()):
        allowed = "; ".join(f"{kind}: {', '.join(states)}" for kind, states in STATES.items())
        raise NotPossible(f"A {kind[:40]} cannot be '{state[:40]}'. What can be decided: {allowed}.")
    if not name.strip():
        raise NotPossible(f"The {kind} needs a name by which people speak of it.")
    bound = {"run_id": decision["run_id"], "kind": kind}
    if not connection.execute(statement("run_exists"), bound).fetchall():
        raise NotPossible(f"The store holds no {kind} '{decision['run_id'][:80]}'. Make the {kind} first.")
    sql = statement("highest", table="decision", column="decision_id")
    number = int(connection.execute(sql).fetchall()[0][0]) + 1
    row = decision | {"decision_id": number, "made_at": datetime.now(UTC).replace(tzinfo=None)}
    connection.execute(statement("decision_add"), row).fetchall()
    return number


def decisions(connection: Connection, kind: str, name: str | None = None) -> pd.DataFrame:
    """Decisions of a kind, of one name if it is given, the newest first."""
    bound = {"kind": kind, "name": name}
    return to_pandas(connection.sql(statement("decisions"), params=bound).to_arrow_table())


def standing(found: pd.DataFrame, *states: str) -> pd.DataFrame:
    """Of decisions, newest first: the last one of each name, if its state is one of those given, or any."""
    last = found.drop_duplicates("name").reset_index(drop=True)
    return last[last["state"].isin(states)].reset_index(drop=True) if states else last
