"""Makers of messy sheets: each is an arrangement, a notation, a unit, a language, a form of dates, a fault.

``make`` writes the files that somebody hands over; what is true is in the ``Draft`` that comes with them.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from messy import faults
from messy.arrangements import ARRANGEMENTS, ONE_ENGINE, ONE_PART, Style
from messy.faults import AFTER, BEFORE, HARMLESS, Draft
from messy.grids import write_text, write_workbook
from messy.invented_railways import PER_UNIT, RAILWAYS, railway
from messy.more_arrangements import ASKED, MORE, ONE_PART_HERE, corrected_below
from messy.notations import DATE_FORMS, MONTHS, NOTATIONS
from messy.records import choose, true_readings

from ingest.layouts.propose import propose_layout

LANGUAGES = ("en", "de", "fr", "pl", "cs")
LONG = ("long", "long by parts", "long with hand")
NEEDS_NOTES = {
    "renewed_in_note",
    "not_renewed_in_note",
    "other_gauge",
    "odometer_in_km",
    "odometer_replaced",
    "cut_in_note",
}
NEEDS_LONG = {"last_years_sheet", "titled", "dittoed", "legend_above", "turned", "dated_once"}
NEEDS_BOOK = {
    "hidden_column",
    "partly_struck",
    "struck_out",
    "hidden_rows",
    "filtered",
    "last_years_sheet",
    "old_draft_hidden",
    "swapped_dates",
    "zeros_unseen",
}
PLAIN = ("last_years_sheet", "old_draft_hidden", "titled", "legend_above", "turned")
"""Faults of sheets that are read without a layout."""
_ONE_ENGINE_HERE = ("both in a cell", "under both", "least and most", "points across")
UNIT_SAID = ("heading", "column", "none")


@dataclass(frozen=True)
class Maker:
    """One kind of messy sheet."""

    arrangement: str
    notation: str
    language: str
    date_form: str
    fault: str = ""
    unit: str = "own"
    unit_said: str = "heading"
    layout_says: bool = True
    odometer: bool = False
    distance_said: bool = True
    file: str = "xlsx"
    proposed: bool = False

    @property
    def name(self) -> str:
        """What tests call it."""
        said = [self.arrangement, self.notation, self.language, self.date_form, self.fault or "clean"]
        said += [f"in {self.unit}, unit in {self.unit_said}"] if self.unit != "own" else []
        said += ["layout says little"] if not self.layout_says else []
        said += ["odometer"] if self.odometer else []
        said += ["layout proposed"] if self.proposed else []
        return ", ".join([*said, self.file])

    @property
    def clean(self) -> bool:
        """Whether such a sheet leaves nothing to ask about."""
        said = self.layout_says or (
            NOTATIONS[self.notation].decimal == "." and self.date_form not in faults_of_dates()
        )
        said &= self.arrangement not in ASKED
        return self.fault in HARMLESS and self.unit_said != "none" and said and self.distance_said


def faults_of_dates() -> tuple[str, ...]:
    """Forms of dates whose order one date alone does not show."""
    return ("dmy slashes", "mdy slashes", "dmy dots", "short dmy")


@dataclass
class Handed:
    """Files handed over, one call of ``add`` after the other; what is true is in the last draft."""

    calls: list[tuple[Path, Path | None]]
    draft: Draft


def makers() -> list[Maker]:
    """All makers, in a fixed order: every fault in several arrangements, all notations and languages."""
    made: dict[str, Maker] = {}
    arrangements, notations = list(ARRANGEMENTS), list(NOTATIONS)
    forms = [*DATE_FORMS, "real", *MONTHS]
    for i, fault in enumerate([*[""] * 8, *BEFORE, *AFTER, "noisy", "not_renewed_in_note"]):
        for k in range(3 if fault else 5):
            n = i * 3 + k
            arrangement = arrangements[(n + k) % len(arrangements)]
            if fault in NEEDS_NOTES or (fault.startswith("renewed") and k == 0):
                arrangement = LONG[n % 2]
            if fault in ("swapped_dates", "day_is_late") and arrangement == "paired":
                arrangement = "wide by dimension"
            if fault in NEEDS_LONG:
                arrangement = "long"
            language = LANGUAGES[(i + 2 * k) % 5] if arrangement != "long with hand" else "en"
            maker = Maker(
                arrangement,
                notations[(2 * n + k) % len(notations)],
                "en" if fault in PLAIN else language,
                "iso" if fault in ("titled", "legend_above", "turned") else forms[(n + i) % len(forms)],
                fault,
                file="xlsx" if fault in NEEDS_BOOK or n % 3 else "csv",
                unit_said=("heading", "column")[n % 2],
                odometer=fault in ("odometer_in_km", "odometer_replaced")
                or (arrangement in LONG and n % 3 == 0),
                distance_said=fault != "odometer_in_km",
            )
            maker = possible(maker)
            made[maker.name] = maker
    for maker in (*_unsaid(), *_proposed(), *_more()):
        made[maker.name] = possible(maker)
    return list(made.values())


def _unsaid() -> list[Maker]:
    """Sheets on which something that matters is said nowhere: unit, decimal mark, order of dates, km."""
    out = []
    for n, arrangement in enumerate(("long", "wide by date", "wide by dimension", "paired", "long by parts")):
        language = LANGUAGES[n] if arrangement != "long by parts" else "en"
        plain = Maker(arrangement, "plain", language, "iso")
        out += [
            replace(plain, unit="mm", unit_said="none"),
            replace(plain, unit="other", unit_said="none", notation="text", file="csv"),
            replace(plain, notation="comma trimmed", layout_says=False),
            replace(plain, notation="comma", layout_says=False, file="csv"),
            replace(plain, date_form="dmy slashes", layout_says=False, file="csv"),
            replace(plain, date_form="mdy slashes", layout_says=False, notation="fraction"),
            replace(plain, notation="shown", unit="other", unit_said="none"),
        ]
    long = Maker("long", "plain", "en", "iso", odometer=True, distance_said=False)
    return [*out, long, replace(long, arrangement="long by parts", file="csv", language="de")]


def _proposed() -> list[Maker]:
    """Sheets whose layout is the one proposed from them, with what it leaves open filled in."""
    return [
        Maker(arrangement, notation, language, form, proposed=True, file=file)
        for language, form, notation, file in (
            ("de", "German words", "comma", "csv"),
            ("fr", "French words", "plain", "xlsx"),
            ("pl", "Roman months", "comma", "csv"),
            ("cs", "Czech words", "text", "xlsx"),
            ("en", "iso", "fraction", "csv"),
        )
        for arrangement in ("long", "long by parts", "wide by date", "wide by dimension")
    ]


def _more() -> list[Maker]:
    """Sheets that a person reads at once and a table does not hold; and rows that correct rows above."""
    written = [
        ("en", "iso", "text", "csv"),
        ("de", "German words", "comma", "csv"),
        ("fr", "real", "text", "xlsx"),
        ("pl", "Roman months", "comma", "xlsx"),
        ("cs", "dmy dots", "text", "csv"),
        ("en", "in words", "fraction", "xlsx"),
        ("en", "iso", "inline", "csv"),
    ]
    more = [
        Maker(arrangement, notation, language, form, file=file, unit_said=said)
        for arrangement, said in zip(MORE, (*["heading"] * 5, *["column"] * 3), strict=True)
        for language, form, notation, file in written
        if language != "en" or arrangement != "long in other words"
    ]
    corrected = [
        Maker("long", notation, language, "iso", "corrected_below", file=file)
        for notation, language, file in (
            ("plain", "en", "csv"),
            ("text", "de", "xlsx"),
            ("plain", "fr", "xlsx"),
        )
    ]
    return more + corrected


def possible(maker: Maker) -> Maker:
    """The maker with what cannot be together put right: a real date in a text file, a shown unit in one."""
    if maker.file == "csv":
        if maker.date_form == "real":
            maker = replace(maker, date_form="iso")
        if maker.notation == "shown":
            maker = replace(maker, notation="inline")
    if maker.fault == "swapped_dates":
        maker = replace(maker, date_form="dmy slashes", file="xlsx", layout_says=False)
    return maker


def make(maker: Maker, seed: int, folder: Path) -> Handed:
    """Write the files of a maker's sheet.

    Parameters
    ----------
    maker : see ``makers``.
    seed : another seed is another railway, another set of readings, other places for the fault.
    folder : where they go; it is made.
    """
    rng = np.random.default_rng([seed, *maker.name.encode()])
    folder.mkdir(parents=True, exist_ok=True)
    draft = _draft(maker, rng)
    if maker.fault == "corrected_below":
        corrected_below(draft)
    if maker.fault in BEFORE:
        BEFORE[maker.fault](draft)
    _arrange(maker, draft)
    if maker.fault in AFTER:
        AFTER[maker.fault](draft)
    calls = [_write(maker, draft, folder / "sheet")]
    if draft.copy:
        draft = faults.corrected(draft)
        _arrange(maker, draft)
        calls.append(_write(maker, draft, folder / "sheet copy"))
        draft.facts["copy"] = "correction"
    return Handed(calls, draft)


def _draft(maker: Maker, rng: np.random.Generator) -> Draft:
    notation = NOTATIONS[maker.notation]
    names = list(RAILWAYS)
    if maker.fault == "last_years_sheet":
        names.remove("Two Gauges")
    made = railway(names[int(rng.integers(len(names)))])
    wanted = choose(
        rng,
        made,
        one_engine=maker.arrangement in ONE_ENGINE or maker.odometer or maker.arrangement in _ONE_ENGINE_HERE,
        one_part=maker.arrangement in (*ONE_PART, *ONE_PART_HERE),
    )
    if maker.fault.startswith("cut"):
        wanted = replace(wanted, kinds=("H",))
    records = true_readings(rng, made, wanted)
    unit = maker.unit
    owns = set(records["own_unit"])
    if unit == "other":
        unit = "mm" if owns <= {"in", "thou"} else "in"
    if unit == "own" and not owns <= set(notation.units):
        unit = next(u for u in notation.units if u in ("mm", "in"))
    if unit not in ("own", *notation.units):
        notation = NOTATIONS["plain"]
    said = maker.unit_said
    if len({unit if unit != "own" else own for own in owns}) > 1:
        said = "column"
    if said == "column" and maker.arrangement not in (
        *LONG,
        "long in other words",
        "wheel ids",
        "wheels counted",
    ):
        said = "heading"
    style = Style(
        notation,
        maker.date_form,
        maker.language,
        unit,
        said,
        maker.odometer,
        distance_said=maker.distance_said,
        layout_says=maker.layout_says,
    )
    return Draft(rng, made, records, style)


def _arrange(maker: Maker, draft: Draft) -> None:
    draft.arranged = {**ARRANGEMENTS, **MORE}[maker.arrangement](draft.records, draft.style)
    draft.records = draft.arranged.records(draft.records)
    assert draft.records["unit"].isin(list(PER_UNIT)).all()


def _write(maker: Maker, draft: Draft, path: Path) -> tuple[Path, Path | None]:
    if maker.file == "xlsx":
        path = path.with_suffix(".xlsx")
        write_workbook([draft.grid, *draft.extra], path)
    else:
        path = path.with_suffix(".csv")
        comma = draft.style.notation.decimal == ","
        write_text(draft.grid, path, ";" if comma or maker.language != "en" else ",")
    layout = None
    assert draft.arranged is not None
    if maker.proposed:
        layout = path.with_suffix(".toml")
        layout.write_text(_filled_in(propose_layout(path), draft), encoding="utf-8")
    elif draft.arranged.layout is not None and (maker.fault not in PLAIN or draft.extra):
        layout = path.with_suffix(".toml")
        text = draft.arranged.layout
        if draft.extra:  # the layout is for the sheet that was meant
            text = text.replace('table = "readings"\n', f'table = "readings"\nsheet = "{draft.grid.name}"\n')
        layout.write_text(text, encoding="utf-8")
    return path, layout


def _filled_in(proposal: str, draft: Draft) -> str:
    """A proposed layout with what it leaves open, as whoever knows the sheet fills it in."""
    first, units = draft.records.iloc[0], set(draft.records["unit"])
    for name in ("vehicle", "component", "quantity"):
        if draft.records[name].nunique() == 1:
            proposal = proposal.replace(f'# {name} = ""', f'{name} = "{first[name]}"')
    if len(units) == 1 and "[table.fixed]" in proposal and draft.style.unit_said != "none":
        proposal = proposal.rstrip() + f'\nunit = "{units.pop()}"\n'
    return proposal
