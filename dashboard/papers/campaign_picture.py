"""The campaign's progress picture for a web page: SVG, or PNG made from the same SVG."""

import textwrap
from dataclasses import dataclass

import pandas as pd

from dashboard.papers import brief_svg as svg
from dashboard.words.cautions import FORECAST_CAUTION
from dashboard.words.numbers import Numbers, day_words, month_words
from models.frequency import times_in

WIDTH, HEIGHT, HEAD = 720.0, 116.0, 58.0
NARROW = 350.0
LEFT, RIGHT = 8.0, 8.0
LINE, LINE_SIGNS = 17.0, 112
"""Height of a line of the caution, and the signs that it has room for."""
TRACK_Y, TRACK_H, RIM = 32.0, 32.0, 6.0


@dataclass(frozen=True)
class Campaign:
    """Where the campaign stands. [money]

    ``goal`` is enough in the share ``confidence`` of cases, ``half_way`` in 5 of 10; ``promised`` is not in
    hand yet.
    """

    title: str
    in_hand: float
    promised: float
    half_way: float
    goal: float
    needed_by: pd.Timestamp
    as_of: pd.Timestamp
    confidence: float = 0.8
    caution: str = FORECAST_CAUTION


def campaign_svg(campaign: Campaign, numbers: Numbers, *, headed: bool = True, width: float = WIDTH) -> str:
    """Draw the fund as a stretch of track: in hand, and what is still to come; ``headed`` with its title.

    ``width`` of the picture: ``NARROW`` for a telephone, where the whole of it must be seen at once.
    """
    end = max(campaign.goal, campaign.in_hand, 1.0)
    scale = (width - LEFT - RIGHT) / end
    have = max(0.0, campaign.in_hand)
    top = HEAD if headed else 0.0
    sure = f"enough {times_in(campaign.confidence)}"
    body = [
        *_track(top, width),
        svg.rect(LEFT, top + TRACK_Y, have * scale, TRACK_H, fill=svg.SURE),
        *_mark(
            campaign.half_way * scale,
            f"{numbers.money(campaign.half_way)}: enough 5 times in 10",
            top,
            width,
            above=True,
        ),
        *_mark(campaign.goal * scale, f"{numbers.money(campaign.goal)}: {sure}", top, width, above=False),
        *_labels(campaign, scale, numbers, top, beside=width < WIDTH),
    ]
    sentence = _sentence(campaign, numbers)
    notes = textwrap.wrap(campaign.caution, LINE_SIGNS) if headed else []
    height = top + HEIGHT + LINE * len(notes)
    if headed:
        # A web page may be dark: the picture brings its own ground.
        body.insert(0, svg.rect(0, 0, width, height, fill=svg.PAPER))
        body += [
            svg.words(LEFT, top + HEIGHT + LINE * place + 6, line, font_size=12, fill=svg.QUIET)
            for place, line in enumerate(notes)
        ]
        body.append(svg.words(LEFT, 24, campaign.title, font_size=19, font_weight="bold"))
        body.append(svg.words(LEFT, 46, sentence, font_size=15, fill=svg.QUIET))
    return svg.document(width, height, campaign.title, sentence, body)


def campaign_png(campaign: Campaign, numbers: Numbers, *, scale: float = 2.0) -> bytes:
    """The same picture as PNG, twice the size of the SVG unless told otherwise."""
    return png_of(campaign_svg(campaign, numbers), scale=scale)


def png_of(svg_text: str, *, scale: float = 2.0) -> bytes:
    """A picture drawn as SVG, as PNG."""
    import vl_convert

    return bytes(vl_convert.svg_to_png(svg_text, scale=scale))


def _sentence(campaign: Campaign, numbers: Numbers) -> str:
    have, goal = numbers.money(campaign.in_hand), numbers.money(campaign.goal)
    stands = (
        f"{have} of {goal} in hand" if campaign.in_hand < campaign.goal else f"{have} in hand, {goal} needed"
    )
    return f"{stands} as of {day_words(campaign.as_of)}; work begins in {month_words(campaign.needed_by)}"


def _track(top: float, whole: float) -> list[str]:
    """The empty stretch: ballast line and sleepers, so that the picture reads without colour."""
    width, y = whole - LEFT - RIGHT, top + TRACK_Y
    sleepers = [
        svg.line(LEFT + 8 + i * 16, y + TRACK_H, LEFT + 8 + i * 16, y + TRACK_H + 6, stroke_width=5)
        for i in range(int(width // 16))
    ]
    return [svg.rect(LEFT, y, width, TRACK_H, fill=svg.BAND, stroke=svg.LINE), *sleepers]


def _mark(x: float, label: str, top: float, whole: float, *, above: bool) -> list[str]:
    """A milepost at a sum, its words above or below the track, always inside the picture."""
    x = LEFT + x
    room = 7.0 * len(label)
    anchor, text_x = ("end", x) if x > room else ("start", max(LEFT, min(x, whole - RIGHT - room)))
    y = top + TRACK_Y
    text_y = y - 12 if above else y + TRACK_H + 24
    # Only the rim of the track is crossed: what is in hand is written on it.
    ends = (y - 8, y + RIM) if above else (y + TRACK_H - RIM, y + TRACK_H + 10)
    return [
        svg.line(x, ends[0], x, ends[1], stroke=svg.LATE, stroke_width=3),
        svg.words(text_x, text_y, label, text_anchor=anchor, font_size=13.5),
    ]


def _labels(campaign: Campaign, scale: float, numbers: Numbers, top: float, *, beside: bool) -> list[str]:
    """What is in hand, written on its stretch where it has room, else above or beside it; what is pledged,
    below."""
    have, y = max(0.0, campaign.in_hand), top + TRACK_Y
    label = f"{numbers.money(campaign.in_hand)} in hand"
    room = 8.5 * len(label)
    if have * scale > room:
        style: dict[str, object] = {"fill": "#ffffff", "text_anchor": "end"}
        body = [svg.words(LEFT + have * scale - 8, y + 21, label, font_weight="bold", **style)]
    elif beside:
        body = [svg.words(LEFT + have * scale + 8, y + 21, label, font_weight="bold")]
    else:
        body = [svg.words(LEFT, y - 12, label, font_weight="bold")]
    if campaign.promised > 0:
        # In words alone: drawn on the track, what is not in hand would look as if it were.
        text = f"Pledged, not counted: {numbers.money(campaign.promised)}."
        body.append(svg.words(LEFT, y + TRACK_H + 44, text, font_size=13.5, fill=svg.QUIET))
    return body
