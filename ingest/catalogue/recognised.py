"""What the catalogue took each kind of wear point for, and where its limits come from: shown where sheets are
written and loaded, so that a name that was taken for another part is seen at once."""

from collections.abc import Iterable, Mapping

import pandas as pd

from ingest.catalogue.classify import classify
from ingest.catalogue.tables import limit_rows, records, table_of

COLUMNS = ["component", "quantity", "limit_set", "points", "recognised_as", "limits_from"]
NOT_RECOGNISED = "no published limit and no check speaks of it"
OWN = "the railway sets its own"


def recognised(wear_points: pd.DataFrame, limit_sets: Mapping[str, str]) -> pd.DataFrame:
    """Each kind of wear point, with what it was taken for.

    Parameters
    ----------
    wear_points : vehicle, component, position, quantity.
    limit_sets : the limit set that governs each vehicle; empty or missing where none does.

    Returns
    -------
    ``COLUMNS``, one row for each component, quantity and limit set: points (how many), recognised_as (part
    and measure of the catalogue; empty where it was not recognised), limits_from (paragraphs that speak of
    it, or why there is none). What was not recognised comes first.
    """
    known = classify(wear_points)
    known = known.assign(limit_set=[limit_sets.get(str(name), "") for name in known["vehicle"]])
    rows = []
    for keys, kind in known.groupby(["component", "quantity", "limit_set"], sort=True):
        component, quantity, limit_set = (str(key) for key in keys)
        part, measure = str(kind["part"].iloc[0]), str(kind["measure"].iloc[0])
        speaks = limits_from(limit_set, part, measure, kind["group"].unique()) if part else NOT_RECOGNISED
        named = f"{part}, {measure}" if part else ""
        rows.append([component, quantity, limit_set, len(kind), named, speaks])
    table = pd.DataFrame(rows, columns=COLUMNS)
    return table.sort_values("recognised_as", key=lambda names: names != "", kind="stable", ignore_index=True)


def limits_from(limit_set: str, part: str, measure: str, groups: Iterable[str]) -> str:
    """Paragraphs of a limit set that speak of a measure in these axle groups, or why there is none."""
    if not limit_set:
        return f"none: no catalogue governs the vehicle, {OWN}"
    of_groups = set(groups)
    rows = [
        row
        for row in limit_rows()
        if row["limit_set"] == limit_set
        and part in str(row["component"]).split("|")
        and row["quantity"] == measure
        and (not row["group"] or of_groups & set(str(row["group"]).split("|")))
    ]
    short = {row["source"]: row["short"] for row in records(table_of("sources"))}
    cited = {tier: _cited(rows, tier, short) for tier in ("law", "practice", "shop", "none")}
    figures = list(dict.fromkeys(cited["law"] + cited["practice"] + cited["shop"]))
    if figures:
        return ", ".join(figures)
    return f"none: {', '.join(cited['none'])} gives no figure, {OWN}" if cited["none"] else f"none: {OWN}"


def _cited(rows: list[Mapping[str, object]], tier: str, short: Mapping[str, str]) -> list[str]:
    texts = (f"{short[str(row['source'])]} {row['paragraph']}".strip() for row in rows if row["tier"] == tier)
    return list(dict.fromkeys(texts))


def recognised_lines(table: pd.DataFrame) -> list[str]:
    """One line for each kind: ``driver tire, thickness: recognised as tire, thickness; limits from ...``."""
    return [
        f"{row['component']}, {row['quantity']} ({row['points']:,}): "
        + (
            f"recognised as {row['recognised_as']}; limits from {row['limits_from']}".replace(
                "limits from none", "limits: none"
            )
            if row["recognised_as"]
            else f"not recognised: {row['limits_from']}"
        )
        for row in records(table)
    ]
