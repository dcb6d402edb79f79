"""What to measure first as text, no wider than 100 columns."""

import textwrap

import pandas as pd

from dashboard.words.measure_words import carried_words, round_of, round_words

WIDTH = 100


def measure_text(table: pd.DataFrame, minutes: float | None, currency: str) -> str:
    """The round of each vehicle, with what it saves of all that readings would save, in a currency; an empty
    one where the prices name none."""
    if table.empty:
        return "No reading would change the plan."
    chosen = round_of(table, minutes)
    vehicles = table.groupby("vehicle", sort=True)
    return "\n\n".join(_vehicle(str(name), own, chosen, currency) for name, own in vehicles)


def _vehicle(name: str, own: pd.DataFrame, chosen: pd.DataFrame, currency: str) -> str:
    walk = chosen[chosen["vehicle"] == name]
    lines = [textwrap.fill(f"{name}: {round_words(own, walk, currency)}", WIDTH), ""]
    lines += [
        textwrap.fill(said, WIDTH, initial_indent="  ", subsequent_indent="    ")
        for said in carried_words(walk, currency)
    ]
    lines += ["", f"  {'in walking order':<58}{'last read':>10}{'min':>5}{'saves':>9}{'rank':>6}"]
    for row in walk.to_dict("records"):
        what = textwrap.shorten(
            f"{row['component']} {row['position']}, {row['quantity']}", 57, placeholder=" …"
        )
        since = f"{row['last_date']:%Y-%m}" if pd.notna(row["last_date"]) else "-"
        lines.append(f"  {what:<58}{since:>10}{row['minutes']:>5,.0f}{row['saves']:>9,.0f}{row['rank']:>6}")
    return "\n".join(lines)
