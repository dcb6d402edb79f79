"""``milesleft limits``: published limits, which row holds for the facts stated, and where each comes from."""

from collections.abc import Mapping
from pathlib import Path

import click
import pandas as pd

from dashboard.console.options import FilePath, common_options, print_json
from dashboard.services.engine_facts import catalogues, stated_in
from dashboard.services.own_figures import facts_of, read_own
from dashboard.words.cautions import LIMITS_CAUTION, LOOK_UP
from ingest import catalogue
from ingest.catalogue import conditions
from ingest.catalogue.conditions import Fact
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store

DEFAULT = "us-cfr-230"
"""Listed where neither a set nor a vehicle is named."""


@click.command()
@click.argument("limit_set", default="")
@click.option("--vehicle", default="", help="Vehicle of the store: its governing catalogue, and its facts.")
@click.option("--component", default="", help="Only rows of this component: tire, journal, crosshead, ...")
@click.option("--quantity", default="", help="Only rows of this quantity: thickness, diameter, ...")
@click.option("--group", default="", help="Axle group: engine truck, driver, trailing truck, tender.")
@click.option(
    "--fact", "facts", multiple=True, help="What a limit depends on: axle_load_lb=52000, main_axle=no."
)
@click.option(
    "--own",
    type=FilePath(exists=True, dir_okay=False),
    help="Sheet of the railway's own figures; the stricter holds.",
)
@common_options
def command(
    limit_set: str,
    vehicle: str,
    component: str,
    quantity: str,
    group: str,
    facts: tuple[str, ...],
    own: Path | None,
    db: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """List published limits of LIMIT_SET (us-cfr-230, de-ebo, at-eisbbbv; us-cfr-230 if none is named).

    With --vehicle, those of the catalogue that governs a vehicle of the store. With --component and
    --quantity, say which of them holds for the facts stated.
    """
    law, stated = _of_vehicle(Store(db), vehicle) if vehicle else (None, {})
    stated, what = {**stated, **facts_of(facts)}, (component, quantity, group)
    chosen = limit_set or (law.limit_set if law else DEFAULT)
    if not chosen and law:
        raise NotPossible(f"{vehicle}: governing catalogue {law.text}. Name a LIMIT_SET to look one up.")
    rows = _rows(chosen, what, stated)
    holds = _holding(chosen, what, stated, own) if component and quantity else {}
    governs = f"{vehicle}: governing catalogue {law.text}." if law else ""
    if as_json:
        print_json({"governing": governs, "rows": _records(rows), "holds": holds})
    elif not quiet:
        click.echo("\n".join(filter(None, [governs, _as_text(rows, holds)])))


def _of_vehicle(store: Store, vehicle: str) -> tuple[catalogue.Governing, dict[str, Fact]]:
    """The catalogue that governs a vehicle, and its facts but for those that single points decide."""
    tables = store.read_all("vehicles", "wear_points", "facts")
    chosen = catalogues(tables)
    if vehicle not in chosen:
        known = ", ".join(sorted(chosen)[:20])
        raise NotPossible(f"No vehicle {vehicle!r} is in the store. In the store: {known}.")
    facts = stated_in(tables).of(vehicle)
    return chosen[vehicle], {name: value for name, value in facts.items() if name != "main_axle"}


def _rows(limit_set: str, what: tuple[str, str, str], stated: Mapping[str, Fact]) -> pd.DataFrame:
    component, quantity, group = what
    rows = catalogue.limits(limit_set)
    if component:
        rows = rows[rows["component"].str.split("|").map(lambda parts: component in parts)]
    if quantity:
        rows = rows[rows["quantity"] == quantity]
    if group:
        rows = rows[rows["group"].str.split("|").map(lambda groups: group in groups or groups == [""])]
    if rows.empty:
        known = sorted(
            {part for text in catalogue.limits(limit_set)["component"] for part in text.split("|")}
        )
        raise WrongUsage(
            f"no limit of {component} {quantity} in {limit_set}. Parts there: {', '.join(known)}."
        )
    parsed = rows["conditions"].map(catalogue.parse_conditions)
    rows = rows.assign(
        when=parsed.map(conditions.in_words), citation=[catalogue.cited(r) for r in _records(rows)]
    )
    return rows[parsed.map(lambda held: catalogue.holds(held, stated) is not False)]


def _holding(
    limit_set: str, what: tuple[str, str, str], stated: Mapping[str, Fact], own: Path | None
) -> dict[str, str]:
    """What holds toward either side, in words."""
    own_limits = read_own(own, limit_set)
    holding = {}
    for bound in ("min", "max"):
        chosen = catalogue.choose(limit_set, *what, stated, bound=bound, own=own_limits)
        if chosen.limit is not None:
            word = {"at": "condemned at", "beyond": "condemned beyond"}[chosen.limit.condemned_when]
            holding[bound] = f"{word} {chosen.limit.value:g} {chosen.limit.unit}, {chosen.text}"
    return holding


def _records(rows: pd.DataFrame) -> list[dict[str, object]]:
    return [{str(key): value for key, value in row.items()} for row in rows.fillna("").to_dict("records")]


def _as_text(rows: pd.DataFrame, holds: dict[str, str]) -> str:
    lines = []
    for row in _records(rows):
        figure = f"{row['bound']} {row['value']} {row['unit']}" if row["value"] else "no figure: yours to set"
        basis = "" if row["basis"] == "value" else f" ({row['basis']})"
        place = f", {row['group']}" if row["group"] else ""
        lines.append(f"{row['component']}{place}: {row['quantity']}{basis}")
        said = [
            f"{figure}, condemned {row['condemned_when']}" if row["value"] else figure,
            str(row["citation"]),
        ]
        lines.append("    " + "; ".join(str(part) for part in (*said, row["when"], row["note"]) if part))
    if holds:
        lines.append("")
        lines += [f"Holds: {text}" for text in holds.values()]
    return "\n".join([*lines, "", f"{LIMITS_CAUTION} {LOOK_UP}"])
