"""Makers of mileage logs: kilometers or miles not said, thousands marked, an instrument that was replaced."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from messy.grids import Grid, write_text, write_workbook
from messy.held_to_truth import Outcome, known_of, settle
from messy.invented_railways import MI_PER_KM, railway
from messy.notations import day_cell

from ingest.look.question import Question
from ingest.verdicts.handed_in import read_files

KNOWN_UNTIL = pd.Timestamp("2022-12-31")


@dataclass(frozen=True)
class LogMaker:
    """One kind of log: whether its unit is said, how thousands are marked, what befell the instrument."""

    railway: str
    said: bool = True
    thousands: str = ""
    event: str = ""
    form: str = "iso"
    file: str = "csv"
    first_log: bool = False

    @property
    def name(self) -> str:
        """What tests call it."""
        said = "unit said" if self.said else "unit not said"
        parts = [
            self.railway,
            said,
            f"thousands {self.thousands or 'not marked'}",
            self.event,
            self.form,
            self.file,
        ]
        return ", ".join(filter(None, [*parts, "first log" if self.first_log else ""]))


def log_makers() -> list[LogMaker]:
    """All makers of logs."""
    made = [
        LogMaker(name, said, thousands, event, form, file)
        for name in ("Larkmoor", "Moorbahn", "Two Gauges")
        for said in (True, False)
        for thousands, form, file in (("", "iso", "csv"), (",", "in words", "csv"), (".", "dmy dots", "xlsx"))
        for event in ("", "replaced", "misread")
    ]
    return [*made, LogMaker("Moorbahn", first_log=True), LogMaker("Larkmoor", first_log=True, file="xlsx")]


def log_outcome(maker: LogMaker, seed: int, folder: Path) -> Outcome:
    """Make a log, hand it over, answer, and hold what is stored against the truth."""
    rng = np.random.default_rng([seed, *maker.name.encode()])
    folder.mkdir(parents=True, exist_ok=True)
    truth = _truth(maker, rng)
    path = _write(maker, truth, folder / "log")
    known = dict(known_of(maker.railway))
    until = pd.Timestamp("1900-01-01") if maker.first_log else KNOWN_UNTIL
    known["mileage"] = known["mileage"][known["mileage"]["date"] <= until]
    known["readings"] = known["readings"].iloc[:0]
    before, out = known["mileage"], Outcome()
    settle(read_files([path]), known, out, lambda question: _answer(question, maker))
    _compare(truth, before, known["mileage"], out)
    return out


def _truth(maker: LogMaker, rng: np.random.Generator) -> pd.DataFrame:
    """vehicle, date, shown (what the instrument shows, in its unit), miles (the same), unit, keep."""
    made = railway(maker.railway)
    log = made.log[made.log["date"] > KNOWN_UNTIL].copy()
    unit = log["vehicle"].map({e.name: e.distance for e in made.engines})
    per = unit.map({"mi": 1.0, "km": MI_PER_KM})
    log = log.assign(unit=unit, shown=(log["miles"] / per).round(), keep="in")
    for _, own in log.groupby("vehicle"):
        place = int(rng.integers(6, len(own) - 6))
        if maker.event == "replaced":
            at = own.index[place:]
            log.loc[at, "shown"] -= log.loc[at[0], "shown"] - 12
        elif maker.event == "misread":
            log.loc[own.index[place], "shown"] /= 10
            log.loc[own.index[place], "keep"] = "out"
    log["shown"] = log["shown"].round()
    return log.assign(worth=log["shown"] * per)


def _write(maker: LogMaker, truth: pd.DataFrame, path: Path) -> Path:
    grid = Grid()
    unit = truth["unit"].iloc[0]
    one = len(set(truth["unit"])) == 1
    heads = ["Engine", "Date", f"Odometer ({unit})" if maker.said and one else "Odometer"]
    grid.row(0, [*heads, "Unit"] if maker.said and not one else heads)
    for row, entry in enumerate(truth.to_dict("records"), start=1):
        day = entry["date"].date()
        figure = f"{entry['shown']:,.0f}".replace(",", maker.thousands)
        shown = figure if maker.thousands else float(entry["shown"])
        grid.row(row, [entry["vehicle"], day_cell(maker.form, day), shown])
        if maker.said and not one:
            grid.put(row, 3, entry["unit"])
    path = path.with_suffix(f".{maker.file}")
    if maker.file == "xlsx":
        write_workbook([grid], path)
    else:
        write_text(grid, path, ";")
    return path


def _answer(question: Question, maker: LogMaker) -> str:
    if question.kind == "decimal":
        return "comma" if maker.thousands == "." else "point"
    if question.kind == "dates":
        return "dmy"
    if question.kind == "odometer" and "replaced" in question.answers:
        return {"replaced": "replaced", "misread": "wrong"}.get(maker.event, "")
    distances = {engine.name: engine.distance for engine in railway(maker.railway).engines}
    return distances.get(question.key, "")  # a question about miles or kilometers speaks of one engine


def _compare(truth: pd.DataFrame, before: pd.DataFrame, after: pd.DataFrame, out: Outcome) -> None:
    stored = after[~after["row_id"].isin(before["row_id"])]
    own = {(row["vehicle"], f"{row['date']:%Y-%m-%d}"): row for row in truth.to_dict("records")}
    out.n_stored, seen = len(stored), set()
    for row in stored.to_dict("records"):
        key = (row["vehicle"], f"{row['date']:%Y-%m-%d}")
        true = own.get(key)
        text = f"{row['odometer_read']:.0f} mi of {key[0]} on {key[1]}"
        if true is None:
            out.wrong.append(f"no such entry: {text}")
        elif abs(true["worth"] - row["odometer_read"]) > 0.5 or true["keep"] == "out":
            out.wrong.append(f"odometer: {text}, in truth {true['shown']:.0f} {true['unit']}")
        elif true["unit"] != row["unit"]:
            out.wrong.append(f"unit: {text} is kept in {row['unit']}")
        else:
            seen.add(key)
    wanted = {key for key, row in own.items() if row["keep"] == "in"}
    out.n_true, out.n_in = len(wanted), len(seen & wanted)
