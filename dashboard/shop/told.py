"""All that is told of one opening, together: what the command prints and the papers are made from."""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from dashboard.shop.found import as_found, examined, findings_of
from dashboard.shop.openings import find_opening, openings_of
from dashboard.shop.scope import ScopeNow, scope_now
from dashboard.words.records import as_records, for_json
from ingest.store import Store


@dataclass(frozen=True)
class Told:
    """One opening.

    Attributes
    ----------
    opening : its row.
    version : data version that it is told from.
    found : as found beside the forecast, as :func:`dashboard.shop.found.as_found` gives it.
    findings : located defects, as :func:`dashboard.shop.found.findings_of` gives them.
    examined : component, examined, defective.
    scope : where the scope stands.
    """

    opening: dict[Hashable, Any]
    version: int
    found: pd.DataFrame
    findings: pd.DataFrame
    examined: pd.DataFrame
    scope: ScopeNow

    def as_dict(self) -> dict[str, object]:
        """Everything for JSON."""
        frames = {
            name: for_json(value) for name, value in vars(self).items() if isinstance(value, pd.DataFrame)
        }
        opening = for_json(pd.DataFrame([self.opening]))[0]
        return {"opening": opening, "version": self.version, **frames, "scope": scope_dict(self.scope)}


def told_of(store: Store, wanted: str) -> Told:
    """What is told of an opening, by its name or its vehicle's.

    Raises
    ------
    WrongUsage : there is no such opening.
    """
    version = store.version()
    opening = find_opening(openings_of(store, version), wanted)
    defects = store.read("defects", version=version)
    name = str(opening["opening"])
    return Told(
        opening=opening,
        version=version,
        found=as_found(store, opening, version),
        findings=findings_of(defects, name),
        examined=examined(defects, name),
        scope=scope_now(store, opening, version),
    )


def scope_dict(scope: ScopeNow) -> dict[str, object]:
    """Where a scope stands, for JSON; ranges by probability."""
    ahead = scope.ahead
    ranges = {
        "cost_to_finish": {f"{p:g}": value for p, value in ahead.cost.items()},
        "hidden": {f"{p:g}": value for p, value in ahead.hidden_cost.items()},
        "hours": {f"{p:g}": value for p, value in ahead.hours.items()},
        "finish": {f"{p:g}": f"{day:%Y-%m-%d}" for p, day in ahead.finish.items()},
    }
    money = {"contingency": scope.contingency, "used": scope.used, "left": scope.left}
    frames = {"lines": ahead.lines, "still_hidden": ahead.hidden, "unpriced": ahead.unpriced}
    told = {"plan": scope.plan, "today": f"{scope.today:%Y-%m-%d}", "currency": scope.currency}
    plain = as_records(pd.DataFrame([money]))[0]
    return {**told, **plain, **ranges, **{name: for_json(frame) for name, frame in frames.items()}}
