"""``milesleft add``: files in, a verdict for every row."""

from pathlib import Path

import click
import pandas as pd

from dashboard.commands.common import FilePath, common_options, print_json
from dashboard.services.after_add import MOST_POINTS, Noticed, notice, recognised_points
from dashboard.words.columns import in_columns
from dashboard.words.noticed import left_out_words, noticed_lines
from dashboard.words.records import as_records, for_json
from ingest.catalogue.recognised import recognised_lines
from ingest.store import Store
from ingest.verdicts.add import add_files
from ingest.verdicts.report import AddReport

_SHOWN = 20  # reasons printed for a file, each with its rows; --json gives all
_NAMED = 3  # rows named of those that share a reason


@click.command()
@click.argument("paths", nargs=-1, required=True, type=FilePath())
@click.option("--who", default="", help="Name for the record; your login if left out.")
@click.option(
    "--layout",
    type=FilePath(dir_okay=False),
    help="How sheets with a layout of their own are read.",
)
@common_options
def command(
    paths: tuple[Path, ...], who: str, layout: Path | None, db: Path, quiet: bool, as_json: bool
) -> None:
    """Load files or folders: readings, mileage, work and the other tables, in any order.

    Every row ends accepted, held back (with the reason) or already known. Held-back rows wait in the store:
    'milesleft held' lists them. Readings far from what the last forecast expected are stored and named, and
    so are checks across wear points that they break.
    """
    store = Store(db)
    report = add_files(store, paths, who=who, layout=layout)
    noticed = None if quiet and not as_json else notice(store, report)
    kinds = recognised_points(store, report)
    if as_json:
        print_json({**report.as_dict(), **_noticed_as_dict(noticed), "recognised": as_records(kinds)})
    elif not quiet:
        click.echo("\n".join([as_text(report, kinds), *_noticed_as_lines(noticed)]))
    if report.not_read:
        if quiet:
            click.echo("\n".join(item.reason for item in report.not_read), err=True)
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
    for file, unused in report.files[["file", "not_used"]].itertuples(index=False):
        if unused:
            lines.append(f"\nColumns of {file} that were not used: {unused}")
    for item in report.not_read:
        lines.append(f"\nNot read: {_place(item.file, item.sheet)}\n  {item.reason}")
    lines += _recognised_as_lines(kinds)
    if report.batch is None:
        lines.append("\nNothing new: the store is as it was.")
    else:
        lines.append(f"\nStored as batch {report.batch}.")
    return "\n".join(lines)


def _recognised_as_lines(kinds: pd.DataFrame) -> list[str]:
    if kinds.empty:
        return []
    return [
        "\nWhat the catalogue took the wear points for:",
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
    return noticed_lines(noticed.unexpected, noticed.findings, left_out)


def _noticed_as_dict(noticed: Noticed | None) -> dict[str, object]:
    if noticed is None:
        return {"unexpected": [], "checks_not_met": [], "not_looked_at": ""}
    unexpected = noticed.unexpected.drop(columns=["row_id", "batch"], errors="ignore")
    return {
        "unexpected": for_json(unexpected),
        "checks_not_met": as_records(noticed.findings),
        "not_looked_at": left_out_words(noticed.left_out, MOST_POINTS),
    }


def _place(file: str, sheet: str) -> str:
    return f"{file}, sheet {sheet}" if sheet else file


def _counts(report: AddReport) -> str:
    """Rows and verdicts by sheet, and in all."""
    counted = ["rows", "accepted", "held_back", "already_known"]
    texts = [["file", "table", *[name.replace("_", " ") for name in counted]]]
    for sheet in report.files.to_dict("records"):
        place = _place(str(sheet["file"]), str(sheet["sheet"]))
        texts.append([place, str(sheet["table"]), *[f"{sheet[name]:,}" for name in counted]])
    texts.append(["in all", "", *[f"{int(report.files[name].sum()):,}" for name in counted]])
    return "\n".join(in_columns(texts, left=(0, 1)))
