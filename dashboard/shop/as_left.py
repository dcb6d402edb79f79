"""As left: what each dimension must be at reassembly, and what agrees with what, also before it is stored.

What is typed and not yet stored is laid over the readings that are, and the checks of the shop are run on
both: so a rod that would bind is seen before it is hung.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from dashboard.services.shop_checks import of_vehicle, reassembly_findings, shop_findings
from ingest.errors import WrongUsage
from ingest.notation.values import parse_values
from ingest.store import Store
from ingest.units import from_base, to_base, unit_of
from ingest.value_state import value_states
from models.checks.findings_frame import UNTOLD, WITHIN, worst_first
from models.checks.opened import as_left, told_in

Opening = Mapping[Hashable, Any]
TABLES = ("wear_points", "readings", "work", "facts", "vehicles", "findings", "mileage", "position_aliases")
DONE = {"": "not worked on", "renewed": "renewed", "cut": "cut"}
WHY = {
    "": "not said",
    "worn": "worn",
    "age": "by age",
    "accident": "after an accident",
    "while_open": "because it lay open",
}


@dataclass(frozen=True)
class Typed:
    """A dimension as somebody typed it.

    Attributes
    ----------
    point, day : wear point, day of the measurement. text, unit : what was typed; unit of a bare number.
    value : in base unit.
    done, why : what was done to the part (``DONE``, ``WHY``). by : who measured it.
    """

    point: str
    day: date
    text: str
    unit: str
    value: float
    done: str = ""
    why: str = ""
    by: str = ""

    @property
    def words(self) -> str:
        """What was typed, with its unit."""
        return self.text if any(sign.isalpha() for sign in self.text) else f"{self.text} {self.unit}".strip()


def typed(
    point: pd.Series, text: str, day: date, *, unit: str = "", done: str = "", why: str = "", by: str = ""
) -> Typed:
    """Read a dimension as it was typed.

    Parameters
    ----------
    point : row of ``wear_points``. unit : of a bare number; the wear point's own if empty.

    Raises
    ------
    WrongUsage : it is no dimension.
    """
    beside = unit or str(point["unit"])
    read = parse_values(pd.Series([text], dtype="str"), beside).iloc[0]
    if read["problem"]:
        raise WrongUsage(f"{point['point']}: {read['problem']}.")
    written = str(read["unit"]) or (unit_of(beside) or beside)
    base = float(to_base(float(read["value"]), written))
    return Typed(str(point["point"]), day, text.strip(), beside, base, done, why, by)


def left_in(store: Store, opening: Opening, version: int | None = None) -> pd.DataFrame:
    """How each wear point of the engine went back.

    Returns
    -------
    point, component, position, quantity, unit, value, new_value, shop_limit, condemning_limit [own unit],
    date, how (left / found: it stands as it was found; empty: not measured in the opening), state
    (``ingest.value_state``), and where each was read; the wear points in the order of their names.
    """
    tables = store.read_all("readings", "work", "wear_points", version=version)
    points = tables["wear_points"]
    own = points[points["vehicle"] == opening["vehicle"]]
    told = as_left(told_in(tables["readings"], tables["work"], points, opening))
    told = told.drop(columns=["odometer", "kind"]).rename(columns={"state": "how"})
    rows = own.merge(told, on="point", how="left").sort_values("point", kind="stable", ignore_index=True)
    rows["state"] = value_states(rows["value"], rows)
    figures = ["value", "new_value", "shop_limit", "condemning_limit"]
    rows[figures] = rows[figures].mul(rows["per_base"], axis=0)
    rows["how"] = rows["how"].fillna("")
    source = ["source_file_y", "source_sheet_y", "source_row_y"]
    named = rows.rename(columns=dict(zip(source, ("source_file", "source_sheet", "source_row"), strict=True)))
    about = ["point", "component", "position", "quantity", "unit", *figures, "date", "how", "state"]
    listed: pd.DataFrame = named[[*about, "source_file", "source_sheet", "source_row"]]
    return listed


def agree(
    store: Store, opening: Opening, more: Sequence[Typed] = (), version: int | None = None
) -> pd.DataFrame:
    """What must agree on the engine, with what was typed laid over what is stored.

    Parameters
    ----------
    more : typed and not yet stored.

    Returns
    -------
    Findings of the checks (``models.checks.findings_frame.COLUMNS``), the worst first, and ``typed``: whether
    something typed has to do with them. What cannot be told is there only where something typed asks for it.
    """
    tables = of_vehicle(store.read_all(*TABLES, version=version), str(opening["vehicle"]))
    points = set(tables["wear_points"]["point"])
    readings = tables["readings"]
    tables["readings"] = _laid_over(readings[readings["point"].isin(points)], more)
    rows = _with_fits(shop_findings(tables), reassembly_findings(tables))
    names = {one.point for one in more}
    mine = np.array([bool(names & set(str(of).split(", "))) for of in rows["points"]], dtype=bool)
    rows = rows.assign(typed=mine)
    shown: pd.DataFrame = rows[~rows["verdict"].isin([UNTOLD]) | rows["typed"]]
    return shown.reset_index(drop=True)


def _with_fits(checks: pd.DataFrame, fits: pd.DataFrame) -> pd.DataFrame:
    """Checks and fits, the worst first; a check that could not be told gives way to the fit of its name."""
    told = set(zip(fits["check"], fits["points"], strict=True))
    untold = (checks["verdict"] == UNTOLD).to_numpy()
    pairs = [pair in told for pair in zip(checks["check"], checks["points"], strict=True)]
    kept = checks[~(untold & np.array(pairs, dtype=bool))]
    parts = [part for part in (kept, fits) if len(part)]
    return worst_first(pd.concat(parts, ignore_index=True)) if parts else checks


def problems_of(rows: pd.DataFrame) -> pd.DataFrame:
    """Those that are past a limit."""
    return rows[~rows["verdict"].isin([WITHIN, UNTOLD])]


def rows_to_store(opening: Opening, entries: Sequence[Typed]) -> dict[str, list[dict[str, object]]]:
    """What was typed as rows of tables: a reading as left for each, and the work that was told."""
    name = opening["opening"]
    readings: list[dict[str, object]] = []
    work: list[dict[str, object]] = []
    for one in entries:
        about = {"point": one.point, "date": one.day, "unit": one.unit, "opening": name}
        readings.append({**about, "value": one.text, "found_or_left": "left", "observer": one.by})
        if one.done:
            work.append({**about, "action": one.done, "value_after": one.text, "why": one.why})
    return {"readings": readings, "work": work}


def _laid_over(readings: pd.DataFrame, more: Sequence[Typed]) -> pd.DataFrame:
    """Readings, those of a point that was typed replaced by what was typed."""
    if not more:
        return readings
    last = {one.point: one for one in more}
    kept = readings[~readings["point"].isin(list(last))]
    day = max([pd.Timestamp(one.day) for one in more])
    added = pd.DataFrame(
        {"point": list(last), "value": [one.value for one in last.values()], "date": day}
    ).astype({"date": readings["date"].dtype})
    return pd.concat([kept, added.reindex(columns=kept.columns)], ignore_index=True)


def shown(one: Typed, own: str) -> float:
    """A typed dimension in the wear point's own unit."""
    return float(from_base(one.value, own))
