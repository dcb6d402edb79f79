"""``milesleft opening``: an engine that lies open, from its first day to the as-left record."""

from datetime import date
from pathlib import Path
from typing import Any

import click
import pandas as pd

from dashboard.console.options import Day, FilePath, check_out, common_options, print_json
from dashboard.words.columns import in_columns
from dashboard.words.plan_words import DEPTH_WORDS
from dashboard.words.records import for_json
from ingest.errors import UnreadableFile
from ingest.neutral import quoted_path, visible
from ingest.schema.shop_tables import METHODS, VERDICTS
from ingest.store import Store
from ingest.verdicts.report import AddReport
from ingest.writing import write_whole

WHO = click.option("--who", default="", help="Name for the record; your login if left out.")
PAPERS = ["contractor", "orders", "as-left", "inspector"]
DEPTHS = click.Choice(list(DEPTH_WORDS))


@click.group()
def command() -> None:
    """An engine that lies open: what was found, what it grows to, how it was left."""


@command.command("list")
@common_options
def listed(db: Path, quiet: bool, as_json: bool) -> None:
    """All openings, the last first."""
    from dashboard.shop.openings import openings_of

    rows = openings_of(Store(db))
    if as_json:
        print_json(for_json(rows))
    elif not quiet:
        click.echo("\n".join(_list_lines(rows)))


def _list_lines(rows: pd.DataFrame) -> list[str]:
    if rows.empty:
        return ["No opening is on record. Begin one: milesleft opening begin VEHICLE --from DAY"]
    texts = [["opening", "vehicle", "from", "until", "depth", "where", "findings", "measured"]]
    for row in rows.to_dict("records"):
        until = "open" if pd.isna(row["until"]) else f"{row['until']:%Y-%m-%d}"
        depth = DEPTH_WORDS.get(row["depth"], "")
        words = [row["opening"], row["vehicle"], f"{row['since']:%Y-%m-%d}", until, depth, row["place"]]
        texts.append([*(visible(str(word)) for word in words), str(row["defects"]), str(row["measured"])])
    return list(in_columns(texts, left=range(6)))


@command.command()
@click.argument("vehicle")
@click.option("--from", "since", type=Day(), required=True, help="First day.")
@click.option("--name", default="", help="Name of the opening; vehicle and month if left out.")
@click.option("--depth", type=DEPTHS, default=None, help="How deep it is opened.")
@click.option("--where", default="", help="Own shop, contractor.")
@click.option("--plan-line", default="", help="Window of the plan that it carries out, as the plan names it.")
@click.option("--note", default="", help="Anything.")
@WHO
@common_options
def begin(
    vehicle: str,
    since: date,
    depth: str | None,
    where: str,
    db: Path,
    quiet: bool,
    as_json: bool,
    **said: str,
) -> None:
    """Open VEHICLE."""
    from dashboard.shop.openings import begin as begin_it

    name = begin_it(Store(db), vehicle, since, depth=depth or "", place=where, **said)
    if as_json:
        print_json({"opening": name})
    elif not quiet:
        click.echo(f"Open: {visible(name)}. Findings: milesleft opening found '{visible(name)}' ...")


@command.command()
@click.argument("name")
@click.option("--until", type=Day(), required=True, help="Last day.")
@WHO
@common_options
def close(name: str, until: date, who: str, db: Path, quiet: bool, as_json: bool) -> None:
    """The last day of the opening NAME (or of the vehicle NAME)."""
    from dashboard.shop.openings import close as close_it
    from dashboard.shop.openings import find_opening, openings_of

    store = Store(db)
    opening = find_opening(openings_of(store), name)
    close_it(store, opening, until, who=who)
    if as_json:
        print_json({"opening": opening["opening"], "until": f"{until}"})
    elif not quiet:
        click.echo(f"{visible(str(opening['opening']))} is closed on {until}.")


@command.command()
@click.argument("name")
@click.option("--component", required=True, help="What was examined.")
@click.option("--position", default="", help="Where on the vehicle: driver 2 left.")
@click.option("--defect", default="nothing found", show_default=True, help="What was found.")
@click.option("--place", default="", help="Where on the part: fillet, bore, spoke 4.")
@click.option("--method", type=click.Choice(METHODS[1:]), default=None, help="How it was found.")
@click.option("--size", default="", help="How large it is: '3/4 in', '12 mm'.")
@click.option("--verdict", type=click.Choice(VERDICTS[1:]), default=None, help="What was decided.")
@click.option("--watch-until", type=Day(), default=None, help="Day by which it is looked at again.")
@click.option("--on", "day", type=Day(), default=None, help="Day; today if left out.")
@click.option("--part-no", default="", help="Number of the part, where parts have numbers.")
@click.option("--picture", type=FilePath(dir_okay=False), default=None, help="A picture of it.")
@click.option("--note", default="", help="Anything.")
@WHO
@common_options
def found(
    name: str,
    picture: Path | None,
    who: str,
    db: Path,
    quiet: bool,
    as_json: bool,
    **row: Any,  # noqa: ANN401  # the cells of the row
) -> None:
    """One part examined in the opening NAME, and what was found on it; also one that is sound."""
    from dashboard.shop.entries import store_finding
    from dashboard.shop.openings import find_opening, openings_of
    from dashboard.shop.photos import check_photo

    store = Store(db)
    opening = find_opening(openings_of(store), name)
    photo = None if picture is None else check_photo(_bytes_of(picture), picture.name)
    told = {key: value for key, value in row.items() if value not in (None, "")}
    told["date"] = told.pop("day", date.today())
    made = store_finding(store, opening, told, photo, who=who)
    if as_json:
        print_json(made.as_dict())
    elif not quiet:
        click.echo(f"{_stands(made)} The page of the opening and 'milesleft opening show' tell what follows.")


@command.command()
@click.argument("name")
@click.option("--component", required=True, help="What is worked on.")
@click.option("--action", required=True, help="What is done: renewed, cut, repaired.")
@click.option("--position", default="", help="Where on the vehicle; of a line that is there, as it stands.")
@click.option("--state", type=click.Choice(["open", "done", "dropped"]), default="open", show_default=True)
@click.option("--parts", default="", help="How many parts.")
@click.option("--cost", default="", help="Money for all of it, as quoted or paid.")
@click.option("--hours", "labor_hours", default="", help="Hours of work for all of it.")
@click.option("--trade", default="", help="machining, foundry, welding, testing, fitting.")
@click.option("--ordered", type=Day(), default=None, help="Day on which what it needs was ordered.")
@click.option("--on", "day", type=Day(), default=None, help="Day; today if left out.")
@click.option("--note", default="", help="Anything: why it was dropped.")
@WHO
@common_options
def line(name: str, who: str, db: Path, quiet: bool, as_json: bool, **row: Any) -> None:  # noqa: ANN401  # the cells
    """A line of the scope of the opening NAME: added, or told to be done, dropped, ordered or quoted."""
    from dashboard.shop.entries import store_line
    from dashboard.shop.openings import find_opening, openings_of

    store = Store(db)
    told = {key: value for key, value in row.items() if value not in (None, "")}
    told["date"] = told.pop("day", date.today())
    made = store_line(store, find_opening(openings_of(store), name), told, who=who)
    if as_json:
        print_json(made.as_dict())
    elif not quiet:
        click.echo(_stands(made))


@command.command()
@click.argument("name")
@common_options
def show(name: str, db: Path, quiet: bool, as_json: bool) -> None:
    """All that is told of the opening NAME: as found beside the forecast, findings, scope."""
    from dashboard.papers.opening_text import opening_lines
    from dashboard.shop.told import told_of

    told = told_of(Store(db), name)
    if as_json:
        print_json(told.as_dict())
    elif not quiet:
        click.echo("\n".join(opening_lines(told)))


@command.command()
@click.argument("vehicle")
@click.option("--what", "happened", required=True, help="hot bearing, derailment, lubricant, lining, flood.")
@click.option("--on", "day", type=Day(), required=True, help="Day.")
@click.option("--component", default="", help="Component that it concerns; the whole engine if left out.")
@click.option("--point", default="", help="Wear point that it concerns.")
@click.option("--part-no", default="", help="Part that it concerns, where parts have numbers.")
@click.option("--note", default="", help="Anything: from what to what, how long.")
@WHO
@common_options
def event(
    vehicle: str, happened: str, day: date, who: str, db: Path, quiet: bool, as_json: bool, **row: str
) -> None:
    """Something befell VEHICLE between openings: it counts for the hidden defects of the next one."""
    from dashboard.shop.entries import store_event

    made = store_event(Store(db), {"vehicle": vehicle, "event": happened, "date": day, **row}, who=who)
    if as_json:
        print_json(made.as_dict())
    elif not quiet:
        click.echo(_stands(made))


@command.command()
@click.argument("name")
@click.option("--what", type=click.Choice(PAPERS), required=True, help="Which paper.")
@click.option("--out", type=FilePath(dir_okay=False), required=True, help="FILE.pdf or FILE.xlsx.")
@click.option("--since", type=Day(), default=None, help="Inspector's folder: readings after this day.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@common_options
def papers(
    name: str, what: str, out: Path, since: date | None, paper: str, db: Path, quiet: bool, as_json: bool
) -> None:
    """A paper of the opening NAME: scope for a contractor, orders, as-left record, inspector's folder."""
    check_out(out, (".pdf", ".xlsx"))
    from dashboard.papers.opening_papers import opening_paper
    from dashboard.papers.table_papers import paper_pdf, paper_workbook
    from dashboard.shop.openings import find_opening, openings_of

    store = Store(db)
    day = None if since is None else pd.Timestamp(since)
    made = opening_paper(store, find_opening(openings_of(store), name), what, since=day)
    content = paper_pdf(made, size=paper) if out.suffix.lower() == ".pdf" else paper_workbook(made)
    write_whole(out, content)
    lines = sum(len(table.rows) for table in made.tables)
    if as_json:
        print_json({"what": what, "out": str(out), "lines": lines})
    elif not quiet:
        click.echo(f"{made.title}: {lines:,} lines, written to {visible(str(out))}.")


def _stands(made: AddReport) -> str:
    """Whether anything new was stored."""
    return "Stored." if made.batch is not None else "Known already."


def _bytes_of(path: Path) -> bytes:
    from dashboard.shop.photos import MOST_BYTES

    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1)  # one more than is taken
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise UnreadableFile(f"Picture {quoted_path(path)}: {reason}. Check the name.") from None
