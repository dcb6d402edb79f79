"""How a correction of many rows is worded: which rows, what is put right in them."""

from datetime import date
from typing import Any

from ingest.neutral import neutral
from ingest.verdicts.correct_many import Change, Chosen, Proposed


def chosen_words(chosen: Chosen) -> str:
    """``gauge G7, 1 Mar 2019 to 30 Jun 2020``."""
    names = ("vehicle", "point", "gauge", "observer", "file", "sheet")
    parts = [f"{name} {neutral(getattr(chosen, name))}" for name in names if getattr(chosen, name)]
    since, until = (f"{day:%-d %b %Y}" if day else "" for day in (chosen.since, chosen.until))
    if since or until:
        parts.append(
            f"{since} to {until}" if since and until else f"from {since}" if since else f"to {until}"
        )
    return ", ".join(parts) or "all rows"


def change_words(change: Change) -> str:
    """``read 4 thou too high``; ``unit mm``; ``dates moved by -1 year``; ``gauge = G8``."""
    parts = []
    if change.read_high:
        low = change.read_high.strip().startswith(("-", "−"))
        amount = change.read_high.strip().lstrip("+-− ")
        parts.append(f"they read {amount} too {'low' if low else 'high'}")
    if change.unit:
        parts.append(f"they were written in {change.unit}")
    moved = [
        f"{n:+d} {what}{'s' * (abs(n) != 1)}"
        for n, what in ((change.years, "year"), (change.days, "day"))
        if n
    ]
    if moved:
        parts.append(f"dates moved by {' and '.join(moved)}")
    parts += [f"{name} = {neutral(text) or 'nothing'}" for name, text in change.cells.items()]
    return "; ".join(parts)


def proposed_words(proposed: Proposed, chosen: Chosen, change: Change) -> str:
    """How many rows, which, and what becomes of them."""
    what = "row" if len(proposed.rows) == 1 else "rows"
    same = len(proposed.rows) - proposed.changed
    more = f" {same:,} of them would stay as they are." if same else ""
    which = f"{len(proposed.rows):,} {what} of {chosen.table} ({chosen_words(chosen)})"
    return f"{which}: {change_words(change)}.{more}"


def kept_words(facts: dict[str, Any]) -> str:
    """The same from what the batch keeps."""
    chosen = {name: facts[name] for name in Chosen.__dataclass_fields__ if name in facts}
    days = {name: date.fromisoformat(str(chosen[name])) for name in ("since", "until") if chosen.get(name)}
    change = {name: facts[name] for name in Change.__dataclass_fields__ if name in facts}
    which = Chosen(**{**chosen, **days})
    return f"{which.table}: {chosen_words(which)}: {change_words(Change(**change))}"
