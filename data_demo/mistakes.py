"""The rows that went wrong on paper: each kind of mistake that taking in must catch, and where it stands."""

from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from data_demo.draws import stream


@dataclass(frozen=True)
class Mistake:
    """A row that is wrong, or says again what another row says.

    Attributes
    ----------
    kind : what is wrong, in a few words.
    change : columns that differ from the row it is made from; None: the row as it is.
    verdict : held back, or already known.
    base : point (or vehicle) whose row it is made from; empty: any.
    instead : it stands in the place of that row, not below it.
    """

    kind: str
    change: dict[str, str]
    verdict: str = "held back"
    base: str = ""
    instead: bool = False


READINGS = (
    Mistake("no such day", {"date": "2011-02-31"}),
    Mistake("future date", {"date": "2062-07-12"}),
    Mistake("odometer going back", {"odometer": "31206"}),
    Mistake("negative value", {"value": "-0.125"}),
    Mistake("absurd value: decimal point lost", {"value": "2875", "unit": "in"}, base="TIRE"),
    Mistake("unknown wear point", {"point": "Q-D7L-HOLLOW"}),
    Mistake("unit of another quantity", {"value": "62", "unit": "psi"}),
    Mistake("unit in the cell against the unit column", {"value": "1 3/8 in", "unit": "hours"}),
    Mistake("outside the mileage log, no odometer", {"date": "2004-11-20", "odometer": ""}),
    Mistake("no measurement", {"value": "n/a"}),
    Mistake("remark instead of a measurement", {"value": "see sheet 4"}),
    Mistake("order of day and month unknown", {"date": "03/04/05"}),
    Mistake("date instead of a fraction", {"value": "3-Apr"}),
    Mistake("bound instead of a measurement", {"value": ">5/16"}),
    Mistake("division by zero", {"value": "1 3/0"}),
    Mistake("two numbers", {"value": "0.105 / 0.110"}),
    Mistake("no value", {"value": "", "unit": ""}),
    Mistake("no date", {"date": ""}),
    Mistake("no wear point", {"point": ""}),
)
"""One of each, spread over the sheets of readings."""

NOWHERE = Mistake("position that the engine does not have", {"position": "#9 driver L"})

MILEAGE = (
    Mistake("odometer going back", {"odometer": "-9"}),
    Mistake("no odometer", {"odometer": "", "service_days": "", "distance": ""}),
    Mistake("future date", {"date": "2061-08-14"}),
    Mistake("no such day", {"date": "2010-06-31"}),
)
WORK = (
    Mistake("unknown action", {"action": "painted"}),
    Mistake("no such day", {"date": "2012-02-30"}),
    Mistake("unknown wear point", {"point": "H-D9R-SIDEROD"}),
    Mistake("remark instead of a measurement", {"value_after": "as drawing"}),
)
WEAR_POINTS = (
    Mistake("unknown word", {"point": "Q-D1L-EXTRA", "condemned_when": "sometimes"}),
    Mistake("unknown vehicle", {"point": "X-D1L-HOLLOW", "vehicle": "Hobnial"}),
)
FINDINGS = (
    Mistake("more defective than examined", {"examined": "4", "defective": "6"}),
    Mistake("no number", {"examined": "several"}),
)
COSTS = (Mistake("no number", {"cost": "ask the foundry"}),)
USAGE = (Mistake("no such month", {"month": "2027-13"}), Mistake("negative miles", {"miles_planned": "-300"}))
FUNDS = (Mistake("unknown word", {"kind": "hoped for"}), Mistake("no number", {"amount": "lots"}))
WINTER = (
    Mistake("misread: the line of another gauge", {"value": "5/16 in"}, "accepted", "HOLLOW", instead=True),
    Mistake("position that the engine does not have", {"point": "Q-D6L-HOLLOW"}),
    Mistake("remark instead of a measurement", {"value": "could not reach"}, instead=True),
)
"""Of the winter check: a reading far from what was expected, and two rows to be settled."""

MARK, VERDICT = "_mistake", "_verdict"


def put_in(frame: pd.DataFrame, mistakes: tuple[Mistake, ...], *name: object) -> pd.DataFrame:
    """Return the frame, as text, with one wrong row for each mistake, in places drawn by name."""
    frame = as_text(frame)
    frame[MARK] = frame[VERDICT] = ""
    for mistake in mistakes:
        draws = stream("mistake", *name, mistake.kind)
        fitting = frame["point"].str.endswith(mistake.base) if mistake.base else True
        likely = frame[(frame[MARK] == "") & fitting]
        place = int(likely.index[int(draws.random_sample() * len(likely))])
        change = {name: text for name, text in mistake.change.items() if name in frame}
        if change.get("odometer") == "-9":  # typed 900 miles too low
            change["odometer"] = str(round(float(frame["odometer"].iloc[place]) - 900))
            change["date"] = (date.fromisoformat(frame["date"].iloc[place]) + timedelta(days=2)).isoformat()
        row = frame.loc[[place]].assign(**change, **{MARK: mistake.kind, VERDICT: mistake.verdict})
        above = frame.iloc[: place + (not mistake.instead)]
        frame = pd.concat([above, row, frame.iloc[place + 1 :]], ignore_index=True)
    return frame


def say_again(frame: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Return the frame with rows of an older sheet copied in at the top."""
    again = rows.drop(columns=[MARK, VERDICT]).assign(**{MARK: "copied from the older sheet"})
    return pd.concat([again.assign(**{VERDICT: "already known"}), frame], ignore_index=True)


def disagree(frame: pd.DataFrame, *name: object) -> pd.DataFrame:
    """Return the frame with a second reading of the same point and day that says something else."""
    likely = frame[(frame[MARK] == "") & frame["value"].str.match(r"^0?\.\d+$")]
    place = int(likely.index[int(stream("disagree", *name).random_sample() * len(likely))])
    row = frame.loc[[place]].assign(value=f"{float(frame['value'].iloc[place]) + 0.061:.3f}")
    row = row.assign(**{MARK: "two readings of one day that disagree", VERDICT: "held back"})
    return pd.concat([frame.iloc[: place + 1], row, frame.iloc[place + 1 :]], ignore_index=True)


def as_text(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the cells as they are written: ISO dates, whole numbers without a point, nothing for missing."""
    return pd.DataFrame({name: [_text(cell) for cell in frame[name]] for name in frame}, dtype=object)


def _text(cell: object) -> str:
    if cell is None or cell != cell or cell is pd.NaT:
        return ""
    if isinstance(cell, float):
        return repr(int(cell)) if cell == int(cell) else repr(float(cell))
    return str(cell)
