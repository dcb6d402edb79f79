"""``milesleft brief``: the fundraising case as PDF or HTML, and the campaign's progress picture."""

from pathlib import Path
from typing import TYPE_CHECKING

import click
import pandas as pd

from dashboard.console.options import FilePath, common_options, print_json

if TYPE_CHECKING:
    from dashboard.services.brief_settings import Settings


@click.command(name="brief")
@click.option("--out", type=FilePath(dir_okay=False), help="FILE.pdf or FILE.html to write.")
@click.option(
    "--picture",
    type=FilePath(dir_okay=False),
    help="Also the campaign picture, FILE.svg or .png.",
)
@click.option("--vehicle", help="Vehicle; the one with the shortest-lived wear point if there are several.")
@click.option(
    "--window", metavar="DATE", help="First day of the work; the next lay-up with work if not given."
)
@click.option("--title", help="Title of the brief.")
@click.option("--intro", help="Opening words.")
@click.option("--railway", help="Name of the railway or society.")
@click.option("--currency", help="USD, EUR, GBP, ...; that of the price list if not given.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Paper of the PDF.")
@click.option("--numbers", help="How numbers are written: en, en_GB, de, fr, ...")
@click.option("--logo", type=FilePath(dir_okay=False), help="PNG, JPEG or SVG file.")
@click.option("--confidence", type=float, help="The amount asked for is enough with this chance (0.8).")
@click.option(
    "--excursion", metavar="DISTANCE", help="Tell what a running day of this distance costs: 62mi, 100km."
)
@click.option("--excursion-days", type=int, default=1, show_default=True, help="Running days of it.")
@click.option(
    "--excursion-seats", type=int, default=0, help="Seats sold on each day, to tell the share of one."
)
@click.option(
    "--settings",
    type=FilePath(dir_okay=False),
    show_default="MILESLEFT_BRIEF, else brief.toml here or beside the store",
    help="TOML file of defaults: texts, assumptions, terms of payment.",
)
@common_options
def command(
    out: Path | None,
    picture: Path | None,
    settings: Path | None,
    excursion: str | None,
    excursion_days: int,
    excursion_seats: int,
    db: Path,
    quiet: bool,
    as_json: bool,
    **stated: str | float | Path | None,
) -> None:
    """Write the fundraising case: what must be renewed, by when, what it costs, and how sure that is.

    Made from the newest forecast in the store. A forecast supports and never replaces inspection by qualified
    people; the figures are no promise.
    """
    from dashboard.papers.brief import check_targets, settings_of, write_brief, write_picture
    from dashboard.papers.brief_kept import keep_brief
    from dashboard.papers.brief_report import case_as_json, case_in_lines
    from dashboard.services.casework import case_of, read_material
    from ingest.store import Store

    check_targets(out, picture, as_json=as_json, asked=excursion is not None)
    layers = _settings(settings, db, stated, (excursion, excursion_days, excursion_seats))
    looks = settings_of(layers.brief, layers.excursions)
    store = Store(db)
    material = read_material(store)
    case = case_of(material, layers)
    made_on = pd.Timestamp.now().normalize()
    written = [write_brief(out, case, looks, made_on)] if out else []
    written += [write_picture(picture, case, looks)] if picture else []
    run = keep_brief(store, case, material, layers, looks, made_on)
    if as_json:
        print_json(case_as_json(case, looks) | {"run": run, "written": [str(path) for path in written]})
    elif not quiet:
        click.echo(case_in_lines(case, looks, written))


def _settings(
    file: Path | None,
    db: Path,
    stated: dict[str, str | float | Path | None],
    trip: tuple[str | None, int, int],
) -> "Settings":
    """The settings of all layers; an excursion stated on the command line takes the place of the file's.

    Parameters
    ----------
    stated : options by the names of ``[brief]``.
    trip : distance, running days and seats of the excursion; distance None where none is stated.
    """
    from dataclasses import replace

    from dashboard.services.brief_settings import load_settings, settings_file
    from dashboard.services.excursion_plan import excursion

    layers = load_settings(
        file or settings_file(db),
        {name: str(value) if isinstance(value, Path) else value for name, value in stated.items()},
    )
    distance, days, seats = trip
    if distance is None:
        return layers
    return replace(layers, excursions=(excursion("the excursion", distance, days, seats, "--excursion"),))
