"""One run of a forecast: its task, its frames, and where they wait for the others."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pyarrow as pa

from ingest.store.frames import to_arrow
from models.forecast.run import make_forecast
from models.wear.fleet_pool import Sources
from models.wear.known import Learned


@dataclass(frozen=True)
class Task:
    """What every run of one forecast gets beside its tables.

    Attributes
    ----------
    as_of : day up to which the records are believed; None: the last day of each vehicle's log.
    stretch : factor on the intervals by family, from the track record.
    learned : what a sample of the families taught; None where all are in one run.
    condemned : wear points that findings put out, with point, date and kind.
    sources : what other railways shared.
    """

    as_of: pd.Timestamp | None = None
    stretch: pd.Series | None = None
    learned: Learned | None = None
    condemned: pd.DataFrame | None = None
    sources: Sources | None = None


def work_out(tables: dict[str, pd.DataFrame], task: Task) -> tuple[dict[str, pa.Table], dict[str, object]]:
    """Frames of one run, and what is said of it."""
    made = make_forecast(tables, **vars(task))
    return {name: to_arrow(frame) for name, frame in made.frames.items()}, made.about


def write_frames(folder: Path, run: int, frames: dict[str, pa.Table]) -> None:
    """Keep the frames of a run until all are done: ``out/FRAME/RUN.arrow``."""
    for name, frame in frames.items():
        into = folder / "out" / name
        into.mkdir(exist_ok=True)
        file = str(into / f"{run:06d}.arrow")
        with pa.OSFile(file, "wb") as sink, pa.ipc.new_file(sink, frame.schema) as stream:
            stream.write_table(frame)
