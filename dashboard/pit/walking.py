"""The running gear with the stations of the round on it."""

from collections.abc import Sequence

from dashboard.pictures.drawing import Drawing, Label, draw
from dashboard.words.gear_places import Place, place_from, wheelsets
from dashboard.words.walking import UNDRAWN


def picture(places: Sequence[str], vehicle: str, arrangement: str) -> Drawing | None:
    """The running gear with the number of each place in the walk; it says nothing of any value."""
    labels: dict[Place, Label] = {}
    for number, key in enumerate(places, start=1):
        if key != UNDRAWN:
            place = place_from(key)
            labels[place] = Label("none", str(number), f"{number}: {place.words}")
    if not labels:
        return None
    return draw(
        wheelsets(arrangement, labels), labels, title=f"Running gear of {vehicle} {arrangement}".strip()
    )
