"""``milesleft add``: files in, a verdict for every row."""

from pathlib import Path

import click

from dashboard.commands.common import common_options, print_json
from ingest.add import add_files
from ingest.report import AddReport
from ingest.store import Store

_SHOWN = 20  # held-back rows printed for a file; --json gives all


@click.command()
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--who", default="", help="Name for the record; your login if left out.")
@click.option(
    "--layout", type=click.Path(dir_okay=False, path_type=Path), help="How sheets of another make are read."
)
@common_options
def command(
    paths: tuple[Path, ...], who: str, layout: Path | None, db: Path, quiet: bool, as_json: bool
) -> None:
    """Load files or folders: readings, mileage, work and the other tables, in any order.

    Every row ends accepted, held back (with the reason) or already known. Held-back rows wait in the store:
    'milesleft held' lists them.
    """
    report = add_files(Store(db), paths, who=who, layout=layout)
    if as_json:
        print_json(report.as_dict())
    elif not quiet:
        click.echo(as_text(report))
    if report.not_read:
        if quiet:
            click.echo("\n".join(item.reason for item in report.not_read), err=True)
        click.get_current_context().exit(1)


def as_text(report: AddReport) -> str:
    """The report as people read it."""
    lines = [_counts(report)]
    for (file, sheet), rows in report.held_back.groupby(["file", "sheet"], sort=False):
        lines.append(f"\nHeld back from {file}{f', sheet {sheet}' if sheet else ''}:")
        shown = rows.head(_SHOWN)
        lines += [f"  row {row}: {why}" for row, why in zip(shown["row"], shown["reasons"], strict=True)]
        if len(rows) > _SHOWN:
            lines.append(f"  and {len(rows) - _SHOWN:,} more rows ('milesleft held' lists all)")
    for item in report.files.itertuples():
        if item.not_used:
            lines.append(f"\nColumns of {item.file} that were not used: {item.not_used}")
    for item in report.not_read:
        lines.append(
            f"\nNot read: {item.file}{f', sheet {item.sheet}' if item.sheet else ''}\n  {item.reason}"
        )
    if report.batch is None:
        lines.append("\nNothing new: the store is as it was.")
    else:
        lines.append(f"\nStored as batch {report.batch}.")
    return "\n".join(lines)


def _counts(report: AddReport) -> str:
    rows = [
        (
            f"{f.file}{f' [{f.sheet}]' if f.sheet else ''}",
            f.table,
            f.rows,
            f.accepted,
            f.held_back,
            f.already_known,
        )
        for f in report.files.itertuples()
    ]
    total = report.files[["rows", "accepted", "held_back", "already_known"]].sum()
    rows.append(("in all", "", *total))
    head = ("file", "table", "rows", "accepted", "held back", "already known")
    texts = [head, *[(name, table, *[f"{int(n):,}" for n in counts]) for name, table, *counts in rows]]
    width = [max(len(str(row[i])) for row in texts) for i in range(len(head))]
    return "\n".join(
        "  ".join(
            str(c).ljust(w) if i < 2 else str(c).rjust(w)
            for i, (c, w) in enumerate(zip(row, width, strict=True))
        )
        for row in texts
    )
