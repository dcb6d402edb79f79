"""``milesleft layout``: propose how a sheet with a layout of its own is read, and show what that gives."""

from collections.abc import Sequence
from pathlib import Path

import click

from dashboard.console.options import FilePath, check_folder
from ingest.errors import WrongUsage
from ingest.layouts.layout import load_layout
from ingest.layouts.propose import Preview, preview_layout, preview_text, propose_layout
from ingest.neutral import neutral
from ingest.sheets.readers import read_cells
from ingest.writing import write_whole

_WIDEST = 24  # characters of a cell in the preview


@click.command()
@click.argument("file", type=FilePath())
@click.option("--out", type=FilePath(dir_okay=False), help="Write the proposal to this file.")
@click.option("--force", is_flag=True, help="Overwrite the file that --out names.")
@click.option(
    "--layout",
    "given",
    type=FilePath(dir_okay=False),
    help="Propose nothing; show what this layout makes of FILE.",
)
@click.option("--rows", default=10, show_default=True, help="Rows shown of each sheet.")
def command(file: Path, out: Path | None, force: bool, given: Path | None, rows: int) -> None:
    """Propose a layout for FILE, a sheet that is not written like the tables.

    The proposal is text to be confirmed: what a file cannot tell, such as the order of day and month in
    03/04/05, is left for you to state. Use it with 'milesleft add FILE --layout FILE.toml'. Nothing is
    stored.
    """
    if out is not None:
        check_folder(out)
    if given is not None:
        layout = load_layout(given)
        sheets = read_cells(file, encoding=layout.encoding, delimiter=layout.delimiter)
        click.echo(as_text(preview_layout(sheets, layout, rows)))
        return
    text = propose_layout(file)
    if out is None:
        click.echo(text)
    else:
        _write(out, text, force=force)
        click.echo(
            f"Written to {neutral(str(out))}. Confirm it line by line, then: milesleft add FILE --layout"
        )
    click.echo(as_text(preview_text(file, text, rows)), err=out is None)


def as_text(previews: Sequence[Preview]) -> str:
    """What a layout gives, as people read it."""
    parts = []
    for shown in previews:
        cells = shown.rows.map(lambda text: neutral(str(text), _WIDEST))
        parts.append(f"{shown.place}: {shown.n_rows:,} rows of the table {shown.table}")
        parts.append(cells.to_string() if len(cells) else "  (no rows)")
        if shown.units:
            parts.append("Units by headings: " + ", ".join(f"{c} in {u}" for c, u in shown.units.items()))
        if shown.lacking:
            parts.append("Still lacking: " + ", ".join(shown.lacking))
        if shown.unused:
            parts.append("Left out: " + ", ".join(neutral(h, _WIDEST) for h in shown.unused))
        parts.append("")
    return "\n".join(parts)


def _write(out: Path, text: str, *, force: bool) -> None:
    if out.exists() and not force:
        raise WrongUsage(f"{neutral(str(out))} exists. Name another file, or say --force to overwrite it.")
    write_whole(out, text.encode())
