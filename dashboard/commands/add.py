"""``milesleft add``: files in, a verdict for every row."""

from pathlib import Path

import click
import pandas as pd

from dashboard.console.options import ANSWER_HELP, FilePath, answers_given, common_options, print_json
from dashboard.services.after_add import MOST_POINTS, Noticed, notice, recognised_points
from dashboard.words.add_words import advice_words, known_already, known_words, waited_words
from dashboard.words.alarm_words import alarm_lines, alarm_list
from dashboard.words.columns import in_columns
from dashboard.words.looked import look_lines, question_lines
from dashboard.words.noticed import left_out_words, noticed_lines
from dashboard.words.records import as_records, for_json
from ingest.catalogue.recognised import recognised_lines
from ingest.errors import UnreadableFile
from ingest.store import Store
from ingest.verdicts.add import add_files, look_at_files
from ingest.verdicts.handed_in import NotRead
from ingest.verdicts.layout_advice import layout_advice, layout_named
from ingest.verdicts.look_report import LookReport
from ingest.verdicts.report import AddReport

_SHOWN = 20  # reasons printed for a file, each with its rows; --json gives all
_NAMED = 3  # rows named of those that share a reason


@click.command()
@click.argument("paths", nargs=-1, required=True, type=FilePath())
@click.option("--who", default="", help="Name for the record; your login if left out.")
@click.option(
    "--look",
    "only_look",
    is_flag=True,
    help="Store nothing: show how each cell would be read, and what must be answered first.",
)
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="ID=ANSWER",
    help=ANSWER_HELP,
)
@click.option(
    "--layout",
    type=FilePath(dir_okay=False),
    help="How sheets with a layout of their own are read: a file, or the name of a layout that is kept.",
)
@common_options
def command(
    paths: tuple[Path, ...],
    who: str,
    only_look: bool,
    answers: tuple[str, ...],
    layout: Path | None,
    db: Path,
    quiet: bool,
    as_json: bool,
) -> None:
    """Load files or folders: readings, mileage, work and the other tables, in any order.

    Every row ends accepted, held back (with the reason) or already known. Held-back rows wait in the store:
    'milesleft held' lists them. Readings far from what the last forecast expected are stored and named, and
    so are checks across wear points that they break. What a sheet does not decide by itself is asked about,
    and its rows wait for the answer.
    """
    store = Store(db)
    given = answers_given(answers)
    how = None if layout is None else layout_named(store, layout)
    try:
        if only_look:
            _look(look_at_files(store, paths, layout=how, answers=given), quiet=quiet, as_json=as_json)
            return
        report = add_files(store, paths, who=who, layout=how, answers=given)
    except UnreadableFile as error:
        said = advice_words(layout_advice(store, paths, None)) if how is None else []
        raise UnreadableFile("\n".join([str(error), *said])) from None
    advice = layout_advice(store, paths, report) if how is None else []
    noticed = None if quiet and not as_json else notice(store, report)
    kinds = recognised_points(store, report)
    if as_json:
        found = {"recognised": as_records(kinds), "layouts": [vars(item) for item in advice]}
        print_json({**report.as_dict(), **_noticed_as_dict(noticed), **found})
    elif not quiet:
        said = [as_text(report, kinds), *advice_words(advice), *_noticed_as_lines(noticed)]
        click.echo("\n".join(said))
    _end(report.not_read, quiet=quiet)


def _look(report: LookReport, *, quiet: bool, as_json: bool) -> None:
    """Print what a look found."""
    if as_json:
        print_json({**report.as_dict(), "rows": for_json(report.rows)})
    elif not quiet:
        click.echo("\n".join(["Nothing was stored.\n", _counts(report.counts), *look_lines(report)]))
    # What is asked about is no fault of a look.
    _end(tuple(item for item in report.not_read if not item.question), quiet=quiet)


def _end(not_read: tuple[NotRead, ...], *, quiet: bool) -> None:
    """End with 1 where a file or sheet was not taken."""
    if not_read:
        if quiet:
            click.echo("\n".join(item.reason for item in not_read), err=True)
        click.get_current_context().exit(1)


def as_text(report: AddReport, kinds: pd.DataFrame) -> str:
    """The report as people read it, with what the catalogue took new wear points for."""
    lines = [_counts(report)]
    for (file, sheet), rows in report.held_back.groupby(["file", "sheet"], sort=False):
        lines.append(f"\nHeld back from {_place(str(file), str(sheet))}:")
        shown = [*rows.groupby("reasons", sort=False)["row"]][:_SHOWN]
        lines += [f"  {_rows(list(numbers))}: {why}" for why, numbers in shown]
        said = sum(len(numbers) for _, numbers in shown)
        if len(rows) > said:
            lines.append(f"  and {len(rows) - said:,} more rows ('milesleft held' lists all)")
    fresh = report.files[~known_already(report.files)]
    for file, unused in fresh[["file", "not_used"]].itertuples(index=False):
        if unused:
            lines.append(f"\nColumns of {file} that were not used: {unused}")
    for item in report.not_read:
        lines.append(f"\nNot read: {_place(item.file, item.sheet)}\n  {item.reason}")
    lines += _recognised_as_lines(kinds)
    lines += question_lines(report.questions)
    if report.no_longer_wait:
        lines.append(f"\n{waited_words(report.no_longer_wait)}")
    if report.batch is None:
        lines.append("\nNothing new: the store is as it was.")
    else:
        lines.append(f"\nStored as batch {report.batch}.")
    return "\n".join(lines)


def _recognised_as_lines(kinds: pd.DataFrame) -> list[str]:
    if kinds.empty:
        return []
    return [
        "\nWhat the wear points were recognised as:",
        *(f"  {line}" for line in recognised_lines(kinds)),
    ]


def _rows(numbers: list[int]) -> str:
    """Rows that share a reason: ``row 7``, ``rows 2, 3 and 9``, ``rows 2, 3, 4 and 149 more``."""
    if len(numbers) == 1:
        return f"row {numbers[0]}"
    first = [str(number) for number in numbers[: _NAMED if len(numbers) > _NAMED + 1 else -1]]
    last = f"{len(numbers) - _NAMED:,} more" if len(numbers) > _NAMED + 1 else str(numbers[-1])
    return f"rows {', '.join(first)} and {last}"


def _noticed_as_lines(noticed: Noticed | None) -> list[str]:
    if noticed is None:
        return []
    left_out = left_out_words(noticed.left_out, MOST_POINTS)
    lines = noticed_lines(noticed.unexpected, noticed.findings, left_out, noticed.units)
    if len(noticed.alarms):
        head = "\nAlarms of the last forecast at these wear points ('milesleft forecast' makes a new one):"
        lines += [head, *(f"  {line}" for line in alarm_lines(noticed.alarms))]
    return lines


def _noticed_as_dict(noticed: Noticed | None) -> dict[str, object]:
    if noticed is None:
        return {"unexpected": [], "checks_not_met": [], "not_looked_at": "", "alarms": []}
    unexpected = noticed.unexpected.drop(columns=["row_id", "batch"], errors="ignore")
    return {
        "unexpected": for_json(unexpected),
        "checks_not_met": as_records(noticed.findings),
        "not_looked_at": left_out_words(noticed.left_out, MOST_POINTS),
        "alarms": alarm_list(noticed.alarms) if len(noticed.alarms) else [],
    }


def _place(file: str, sheet: str) -> str:
    return f"{file}, sheet {sheet}" if sheet else file


def _counts(report: AddReport) -> str:
    """Rows and verdicts of the sheets that brought anything new, and in all; the known ones in one line."""
    counted = ["rows", "accepted", "held_back", "already_known"]
    texts = [["file", "table", *[name.replace("_", " ") for name in counted]]]
    known, said = known_already(report.files), known_words(report.files)
    for sheet in report.files[~known].to_dict("records"):
        place = _place(str(sheet["file"]), str(sheet["sheet"]))
        texts.append([place, str(sheet["table"]), *[f"{sheet[name]:,}" for name in counted]])
    if len(texts) == 1:
        return said
    texts.append(["in all", "", *[f"{int(report.files[name].sum()):,}" for name in counted]])
    return "\n".join([*in_columns(texts, left=(0, 1)), *filter(None, [said])])
