"""``milesleft measure-first``: which readings to take first, as a round to walk."""

from pathlib import Path

import click
import pandas as pd

from dashboard.console.options import common_options, print_json
from dashboard.papers.measure_text import measure_text
from dashboard.services.kept_plans import find_plan, measure_first_of, runs_in_force
from dashboard.services.plan_state import states
from dashboard.words.measure_words import round_of
from dashboard.words.records import for_json
from ingest.errors import NotPossible, WrongUsage
from ingest.store import Store
from models.case.money import only_currency


@click.command(name="measure-first")
@click.option("--vehicle", default="", help="Only this vehicle.")
@click.option("--plan", "named", default="", help="The plan to measure for; the one in force when not given.")
@click.option(
    "--minutes",
    type=click.FloatRange(min=0, min_open=True),
    help="Minutes there are for each vehicle; a fifth of its list when not given.",
)
@common_options
def command(vehicle: str, named: str, minutes: float | None, db: Path, quiet: bool, as_json: bool) -> None:
    """Which readings to take first: what each saves the plan for the minutes that it takes.

    A reading saves where it may change the plan: a part that need not be renewed yet, or must be sooner. The
    readings that fit into the minutes are listed in the order in which they are met on a walk around the
    engine.
    """
    store = Store(db)
    table, currency = _table(store, vehicle, named)
    if as_json:
        chosen = set(round_of(table, minutes)["point"])
        print_json(for_json(table.assign(in_round=table["point"].isin(list(chosen)))))
    elif not quiet:
        click.echo(measure_text(table, minutes, currency))


def _table(store: Store, vehicle: str, named: str) -> tuple[pd.DataFrame, str]:
    """What the plan in force, or the one named, says to measure first, and its currency."""
    plans = states(store)
    if plans.empty:
        raise NotPossible(f"Store {store.path}: it holds no plan. Make one first: `milesleft plan`.")
    if named:
        runs = [find_plan(store, named)]
    else:
        runs = runs_in_force(store, [vehicle] if vehicle else None) or [str(plans["run_id"].iloc[0])]
    table = measure_first_of(store, runs)
    if vehicle:
        about = plans.loc[plans["run_id"].isin(runs), "about"]
        planned = sorted({str(name) for said in about for name in said.get("vehicles", [])})
        if vehicle not in planned:
            which = f"the plan {named!r}" if named else "any plan"
            raise WrongUsage(
                f"--vehicle {vehicle}: it is not in {which}. Expected one of {', '.join(planned)}."
            )
        table = table[table["vehicle"] == vehicle]
    if table.empty:
        return table, ""
    currency = only_currency(pd.concat([store.read_run(run, "scope")["currency"] for run in runs]))
    return table.reset_index(drop=True), currency
