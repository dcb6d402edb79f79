"""``milesleft score``: the track record of the forecast and of its rivals."""

from __future__ import annotations

import textwrap
from collections.abc import Hashable
from pathlib import Path
from typing import Any

import click
import numpy as np
import pandas as pd

from dashboard.console.options import common_options, print_json
from dashboard.words.cautions import FORECAST_CAUTION
from dashboard.words.columns import in_columns
from dashboard.words.records import as_records
from dashboard.words.units_shown import without_base
from ingest.store import Store

WIDTH = 100
FRAMES = ("overall", "by_quantity", "by_family", "recalibration", "openings")
ERRORS = ("forecaster", "scored", "CRPS", "pinball", "to the line")


@click.command(name="score")
@click.option(
    "--origins", default=5, show_default=True, type=click.IntRange(1, 50), help="Number of past days."
)
@click.option("--quick", is_flag=True, help="Without the two slow rivals.")
@common_options
def command(origins: int, quick: bool, db: Path, quiet: bool, as_json: bool) -> None:
    """How good the forecast has been: every forecaster scored on past readings.

    On several past days each forecaster sees only what was known that day and forecasts what came after it.
    """
    from dashboard.services.scoring import run_score

    store = Store(db)
    if not (quiet or as_json):
        click.echo("Forecasting again from past days ...", err=True)
    run = run_score(store, origins, slow=not quick)
    frames = {name: store.read_run(run, name) for name in FRAMES}
    if as_json:
        print_json({"run": run} | {name: as_records(frame) for name, frame in frames.items()})
    elif not quiet:
        click.echo(as_text(frames))


def as_text(frames: dict[str, pd.DataFrame]) -> str:
    """The score as people read it, no wider than 100 columns."""
    overall = frames["overall"]
    own = str(overall.loc[overall["verdict"] != "", "forecaster"].iloc[0])
    parts = [
        "The next readings of each wear point, errors as a share of its limit in per cent:",
        _readings_table(overall[overall["kind"] == "readings"]),
        "Miles to the limit, as far as they have been seen since, errors as a share of these in per cent:",
        _remaining_table(overall[overall["kind"] == "remaining"]),
        "By what is measured, of 100 readings, how many the range for so many held:",
        _quantity_table(frames["by_quantity"], own),
        "By family, against the straight line through each life (below 1 is better; miles where ends came):",
        _family_table(frames["by_family"], own),
        *_recalibration(frames["recalibration"]),
        *_openings(frames["openings"]),
        _legend(),
    ]
    return "\n\n".join(parts)


def _errors(row: dict[Hashable, Any]) -> tuple[str, ...]:
    """The columns ``ERRORS``."""
    return (
        row["forecaster"],
        _count(row["outcomes"] * row["answered"]),
        _percent(row["crps"]),
        _percent(row["pinball"]),
        _ratio(row["crps_ratio"]),
    )


def _readings_table(rows: pd.DataFrame) -> str:
    head = (*ERRORS, "in 50", "in 80", "in 90")
    body = [
        (
            *_errors(row),
            *[_percent(row[f"cover_{level}"], 0) for level in (50, 80, 90)],
        )
        for row in rows.to_dict("records")
    ]
    return "\n".join(in_columns([head, *body]))


def _remaining_table(rows: pd.DataFrame) -> str:
    head = (*ERRORS, "ends forecast", "ends that came")
    body = [
        (
            *_errors(row),
            f"{row['expected']:,.1f}",
            _count(row["reached"]),
        )
        for row in rows.to_dict("records")
    ]
    return "\n".join(in_columns([head, *body]))


def _quantity_table(by_quantity: pd.DataFrame, own: str) -> str:
    rows = by_quantity[(by_quantity["forecaster"] == own) & (by_quantity["kind"] == "readings")]
    head = ("quantity", "readings", "lives", "to the line", "in 50", "in 80", "in 90")
    body = [
        (
            textwrap.shorten(without_base(str(row["quantity"])), 38, placeholder=" ..."),
            _count(row["outcomes"]),
            _count(row["lives"]),
            _ratio(row["crps_ratio"]),
            *[_percent(row[f"cover_{level}"], 0) for level in (50, 80, 90)],
        )
        for row in rows.sort_values("cover_80").to_dict("records")
    ]
    return "\n".join(in_columns([head, *body]))


def _openings(rows: pd.DataFrame) -> list[str]:
    """As found at openings, against the forecast of the day before."""
    if rows.empty:
        return []
    head = ("opening", "measured", "in the range for 80")
    body = [
        (textwrap.shorten(str(name), 38, placeholder=" ..."), _count(len(part)), _count(part["held"].sum()))
        for name, part in rows.groupby("opening", sort=False)
    ]
    return [
        "As found when opened, against the forecast of the day before:",
        "\n".join(in_columns([head, *body])),
    ]


def _family_table(by_family: pd.DataFrame, own: str) -> str:
    rows = by_family[by_family["forecaster"] == own]
    readings = rows[rows["kind"] == "readings"].set_index("family")
    remaining = rows[(rows["kind"] == "remaining") & (rows["reached"] > 0)].set_index("family")["crps_ratio"]
    head = ("family", "readings", "lives", "reading", "miles", "in 80", "verdict on readings")
    body = [
        (
            textwrap.shorten(str(family), 38, placeholder=" ..."),
            _count(row["outcomes"]),
            _count(row["lives"]),
            _ratio(row["crps_ratio"]),
            _ratio(remaining.get(family)),
            _percent(row["cover_80"], 0),
            str(row["verdict"]).replace("straight ", ""),
        )
        for family, row in readings.sort_values("crps_ratio", ascending=False).iterrows()
    ]
    return "\n".join(in_columns([head, *body], left=(0, 6)))


def _recalibration(rows: pd.DataFrame) -> list[str]:
    """Families whose ranges the record asks to widen."""
    proven = rows[rows["factor"] != 1.0]
    if proven.empty:
        return ["No family's range is proven to be off, so none is widened."]
    head = ("family", "lives", "widened by", "in 80 before", "in 80 after")
    body = [
        (
            textwrap.shorten(str(row["family"]), 50, placeholder=" ..."),
            _count(row["lives"]),
            f"{row['factor']:.2f}",
            _percent(row["cover_80_before"], 0),
            _percent(row["cover_80_after"], 0),
        )
        for row in proven.to_dict("records")
    ]
    return [
        "Families whose range for 80 of 100 is proven to be off, and what it holds when it is widened so:",
        "\n".join(in_columns([head, *body])),
    ]


def _legend() -> str:
    text = (
        "CRPS and pinball: how far off, lower is better. To the line: the CRPS over that of the straight "
        "line, on what both can answer. In 50, in 80, in 90: how many of 100 readings lay in the range that "
        "was to hold so many. Ends forecast: the ends that the forecast led one to expect up to what "
        "happened. "
        f"{FORECAST_CAUTION}"
    )
    return textwrap.fill(text, WIDTH)


def _count(value: float) -> str:
    return "" if pd.isna(value) else f"{value:,.0f}"


def _percent(value: float, digits: int = 1) -> str:
    return "" if pd.isna(value) else f"{100 * value:.{digits}f}"


def _ratio(value: float | None) -> str:
    return "" if value is None or not np.isfinite(value) else f"{value:.2f}"
