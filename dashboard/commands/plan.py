"""``milesleft plan``: which lay-ups, which work, why, what it costs, what if we wait."""

from pathlib import Path
from typing import Any, get_args

import click
import pandas as pd

from dashboard.console.options import FilePath, check_out, common_options, print_json
from dashboard.papers.plan_assumptions import plan_assumptions
from dashboard.papers.plan_text import as_text, compared, done_text
from dashboard.services.kept_plans import compare_kept, find_plan, kept_plans, plan_against_done
from dashboard.services.plan_material import PlanChoices
from dashboard.services.plan_state import APPROVED, PROPOSED, STATE_WORDS, WHAT_IF, WITHDRAWN, decide
from dashboard.services.planning import plan_and_store
from dashboard.words.plan_progress import PlanBar
from dashboard.words.records import for_json
from ingest.errors import WrongUsage
from ingest.notation.dates import day_asked
from ingest.store import Store
from ingest.writing import write_whole
from models.plan.rules import Rules
from models.tires.turnings import Policy

ENDINGS = (".xlsx", ".pdf", ".svg", ".png", ".json")
FACTOR = click.FloatRange(0.01, 100)
ENDS_BY_WORK = (
    "--time-limit: it changes nothing any more. The search ends by work done, so that a plan does not depend"
    " on how busy the machine is; use --effort 2 for twice the work."
)


@click.command(name="plan")
@click.option(
    "--risk",
    default=0.05,
    show_default=True,
    help="Accepted chance that an engine must be taken out of service in a season.",
)
@click.option(
    "--part-risk",
    default=0.25,
    show_default=True,
    help="Greatest chance with which one wear point may be at its limit before its renewal.",
)
@click.option(
    "--risk-of", multiple=True, metavar="WORDS=CHANCE", help="The same for a quantity or component."
)
@click.option("--vehicle", "vehicles", multiple=True, help="Only this vehicle; may be given again.")
@click.option(
    "--years", default=10.0, show_default=True, type=click.FloatRange(0.5, 40), help="Years planned."
)
@click.option("--window", "windows", multiple=True, metavar="DATE:DATE", help="A window: first and last day.")
@click.option("--only-windows", is_flag=True, help="No window but those given by hand.")
@click.option("--now", multiple=True, metavar="POINT", help="Renew this wear point in the first window.")
@click.option("--usage", default=1.0, show_default=True, type=FACTOR, help="Factor on the miles ahead.")
@click.option("--cost", default=1.0, show_default=True, type=FACTOR, help="Factor on listed prices.")
@click.option("--lost-day", default=1000.0, show_default=True, help="Money that a day beyond a window costs.")
@click.option(
    "--labor-rate", default=0.0, show_default=True, help="Money an hour, where prices leave it out."
)
@click.option("--stop-days", default=14.0, show_default=True, help="Days lost at a limit in mid-season.")
@click.option("--discount", default=0.02, show_default=True, help="What money later is worth less, a year.")
@click.option("--gangs", default=3, show_default=True, help="Jobs worked on at once.")
@click.option("--turning", default="early at lay-ups", show_default=True, type=click.Choice(get_args(Policy)))
@click.option("--effort", default=1.0, show_default=True, type=FACTOR, help="Factor on the search's work.")
@click.option("--time-limit", type=float, hidden=True)
@click.option(
    "--gap",
    default=0.005,
    show_default=True,
    type=click.FloatRange(0, 1),
    help="Stop the search this close to the cheapest plan, as a share of its cost.",
)
@click.option("--strict", is_flag=True, help="Fail where a wear point cannot be kept within the risk.")
@click.option("--name", default="", help="Name under which the plan is kept.")
@click.option("--what-if", "what_if", is_flag=True, help="Keep it as a what-if, which changes nothing else.")
@click.option("--propose", is_flag=True, help="Keep it as the plan to follow, though it was asked otherwise.")
@click.option("--all", "every", is_flag=True, help="Print the scope of every window.")
@click.option("--out", multiple=True, type=FilePath(dir_okay=False), help=" ".join(ENDINGS))
@click.option(
    "--board", type=FilePath(dir_okay=False), help="The plan for the board, one page: a file ending in .pdf."
)
@click.option(
    "--trips",
    type=FilePath(dir_okay=False),
    help="Trains of the next season as best given out, with the running that follows: an .xlsx for add.",
)
@click.option("--list", "listed", is_flag=True, help="List the plans kept, and stop.")
@click.option("--compare", nargs=2, metavar="PLAN PLAN", help="Two kept plans side by side, and stop.")
@click.option("--done", metavar="PLAN", help="A kept plan against the work on record, and stop.")
@click.option("--approve", metavar="PLAN", help="Say that a kept plan is the one to follow, and stop.")
@click.option("--withdraw", metavar="PLAN", help="Take a kept plan back, and stop.")
@click.option("--note", default="", help="Why, with --approve or --withdraw; it is kept.")
@common_options
def command(db: Path, quiet: bool, as_json: bool, **asked: Any) -> None:  # noqa: ANN401 -- one an option
    """Windows and scope from the newest forecast: what must be done, at which lay-up, and why.

    Each plan is kept with the data it came from. Compare two with --compare, or one with what was done since
    with --done. The brief follows the plan approved last with --approve, else the newest proposed one. A plan
    with work pinned (--now), with other miles or prices, or asked for by another risk or other rules than the
    plan followed so far, is kept as a what-if, unless --propose says otherwise.
    """
    store = Store(db)
    if asked["approve"] or asked["withdraw"]:
        _decide(store, asked, quiet, as_json)
        return
    if asked["listed"] or asked["compare"] or asked["done"]:
        _look_back(store, asked, quiet, as_json)
        return
    for path in asked["out"]:
        check_out(path, ENDINGS)
    if asked["board"]:
        check_out(asked["board"], (".pdf",))
    if asked["trips"]:
        check_out(asked["trips"], (".xlsx",))
    if asked["time_limit"] is not None:
        click.echo(ENDS_BY_WORK, err=True)
    choices = choices_of(asked)
    with PlanBar(shown=not (quiet or as_json)) as bar:
        run, result = plan_and_store(store, choices, name=asked["name"], progress=bar, state=_state(asked))
    if asked["out"]:
        from dashboard.papers.plan_documents import write_plan

        for path in asked["out"]:
            write_plan(result, path)
    if asked["board"]:
        from dashboard.papers.plan_board import board_pdf

        write_whole(asked["board"], board_pdf(result))
    if asked["trips"]:
        from dashboard.planned.trips_file import trips_workbook

        write_whole(asked["trips"], trips_workbook(result.trips, store.read_all("usage")["usage"]))
    if as_json:
        frames = {name: for_json(_plain(frame)) for name, frame in result.frames().items()}
        assumed = for_json(plan_assumptions(result.about))
        about = {"run": run, "name": asked["name"], "about": result.about, "assumed": assumed}
        print_json({**about, **frames})
    elif not quiet:
        click.echo(as_text(result, every=asked["every"]))
        files = [*asked["out"], *(path for path in (asked["board"], asked["trips"]) if path)]
        written = "".join(f"\nWritten to {path}." for path in files)
        state = STATE_WORDS[str(result.about["state"])]
        click.echo(f"\nKept as {asked['name'] or run}. State: {state}.{written}")


def _state(asked: dict[str, Any]) -> str:
    if asked["what_if"] and asked["propose"]:
        raise WrongUsage("--what-if and --propose: a plan is kept as one or the other. Give one of them.")
    return WHAT_IF if asked["what_if"] else PROPOSED if asked["propose"] else ""


def _decide(store: Store, asked: dict[str, Any], quiet: bool, as_json: bool) -> None:
    """Approve a kept plan, or take one back."""
    if asked["approve"] and asked["withdraw"]:
        raise WrongUsage("--approve and --withdraw: one plan is decided on at a time. Give one of them.")
    state = APPROVED if asked["approve"] else WITHDRAWN
    named = asked["approve"] or asked["withdraw"]
    run = find_plan(store, named)
    decide(store, run, state, note=asked["note"])
    if as_json:
        print_json({"run": run, "state": state, "note": asked["note"]})
    elif not quiet:
        click.echo(f"Plan {named}: {STATE_WORDS[state]}.")


def choices_of(asked: dict[str, Any]) -> PlanChoices:
    """What the options ask of the plan.

    Raises
    ------
    WrongUsage : a window or a risk that cannot be read, or that makes no sense.
    """
    rules = Rules(
        risk=max(asked["part_risk"], asked["risk"]) if 0 < asked["risk"] < 1 else asked["risk"],
        stop_risk=asked["risk"],
        risk_by=dict(_risk(text) for text in asked["risk_of"]),
        discount=asked["discount"],
        labor_rate=asked["labor_rate"],
        lost_day=asked["lost_day"],
        stop_days=asked["stop_days"],
        gangs=asked["gangs"],
        now=tuple(asked["now"]),
    )
    same = ("vehicles", "years", "usage", "cost", "turning", "effort", "gap", "strict")
    return PlanChoices(
        windows=tuple(span(text) for text in asked["windows"]),
        only_stated=asked["only_windows"],
        rules=rules,
        **{name: asked[name] for name in same},
    )


def span(text: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last day of ``2027-11-01:2028-04-30``."""
    parts = text.split(":")
    if len(parts) != 2:
        raise WrongUsage(
            f"--window {text!r}: it is no pair of days. Expected the first and the last day of the window, as"
            " in 2027-11-01:2028-04-30."
        )
    try:
        return pd.Timestamp(day_asked(parts[0])), pd.Timestamp(day_asked(parts[1]))
    except WrongUsage as error:
        raise WrongUsage(f"--window {text!r}: {error}") from None


def _risk(text: str) -> tuple[str, float]:
    words, _, chance = text.rpartition("=")
    try:
        return words.strip(), float(chance)
    except ValueError:
        raise WrongUsage(
            f"--risk-of {text!r}: it is not WORDS=CHANCE. Expected, for example, 'flange thickness=0.02'."
        ) from None


def _look_back(store: Store, asked: dict[str, Any], quiet: bool, as_json: bool) -> None:
    if asked["listed"]:
        table, text = kept_plans(store).drop(columns=["about", "kind"], errors="ignore"), ""
        text = "\n".join(
            f"{row['made_at']:%Y-%m-%d %H:%M}  {row['name'] or '-':<24}"
            f"{STATE_WORDS[row['state']]:<11}{row['run_id']}"
            for row in table.to_dict("records")
        )
        text = text or "No plan is kept yet."
    elif asked["compare"]:
        table = compare_kept(store, *asked["compare"])
        text = compared(table)
    else:
        table = plan_against_done(store, asked["done"])
        text = done_text(table)
    if as_json:
        print_json(for_json(_plain(table)))
    elif not quiet:
        click.echo(text)


def _plain(frame: pd.DataFrame) -> pd.DataFrame:
    """Without the columns that only the program reads."""
    return frame.drop(columns=[name for name in ("quote", "closes") if name in frame])
