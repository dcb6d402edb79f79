"""``milesleft limits``: published limits, which row holds for the facts stated, and where each comes from."""

from pathlib import Path

import click
import pandas as pd

from dashboard.commands.common import FilePath, print_json
from dashboard.services.own_figures import facts_of, read_own
from ingest import catalogue
from ingest.catalogue import conditions
from ingest.errors import WrongUsage

CAUTION = "Governing rules and the railway's own limits decide; look a figure up in its text before use."


@click.command()
@click.argument("limit_set", default="us-cfr-230")
@click.option("--component", default="", help="Only rows of this part: tire, journal, crosshead, ...")
@click.option("--quantity", default="", help="Only rows of this measure: thickness, diameter, ...")
@click.option("--group", default="", help="Axle group: engine truck, driver, trailing truck, tender.")
@click.option(
    "--fact", "facts", multiple=True, help="What a limit depends on: axle_load_lb=52000, main_axle=no."
)
@click.option(
    "--own",
    type=FilePath(exists=True, dir_okay=False),
    help="Sheet of the railway's own figures; the stricter holds.",
)
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
def command(
    limit_set: str,
    component: str,
    quantity: str,
    group: str,
    facts: tuple[str, ...],
    own: Path | None,
    quiet: bool,
    as_json: bool,
) -> None:
    """List published limits of LIMIT_SET (us-cfr-230, de-ebo, at-eisbbbv).

    With --component and --quantity, say which of them holds for the facts stated.
    """
    rows = _rows(limit_set, (component, quantity, group), facts)
    holds = _holding(limit_set, (component, quantity, group), facts, own) if component and quantity else {}
    if as_json:
        print_json({"rows": _records(rows), "holds": holds})
    elif not quiet:
        click.echo(_as_text(rows, holds))


def _rows(limit_set: str, what: tuple[str, str, str], facts: tuple[str, ...]) -> pd.DataFrame:
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
    stated = facts_of(facts)
    parsed = rows["conditions"].map(catalogue.parse_conditions)
    rows = rows.assign(
        when=parsed.map(conditions.in_words), citation=[catalogue.cited(r) for r in _records(rows)]
    )
    return rows[parsed.map(lambda held: catalogue.holds(held, stated) is not False)]


def _holding(
    limit_set: str, what: tuple[str, str, str], facts: tuple[str, ...], own: Path | None
) -> dict[str, str]:
    """What holds toward either side, in words."""
    own_limits = read_own(own, limit_set)
    holding = {}
    for bound in ("min", "max"):
        chosen = catalogue.choose(limit_set, *what, facts_of(facts), bound=bound, own=own_limits)
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
    return "\n".join([*lines, "", CAUTION])
