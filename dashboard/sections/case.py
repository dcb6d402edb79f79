"""The parts of the case's page: what is turned, the case as donors read it, what is taken along."""

import base64
import json
import re
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.papers.brief import (
    Brief,
    BriefSettings,
    campaign_of,
    compose,
    render_html,
    render_pdf,
    settings_of,
)
from dashboard.papers.brief_words import Section
from dashboard.papers.campaign_picture import campaign_png, campaign_svg
from dashboard.screen import address, data, show
from dashboard.screen.in_view import InView
from dashboard.services.brief_settings import Settings, load_settings, settings_file
from dashboard.services.casework import Material, choose_vehicle, prepare, read_material, save_case, turned
from dashboard.words.numbers import numbers
from ingest.errors import NotPossible
from models.case.case import Case
from models.case.inputs import CaseInputs

ENGINE = "engine"
"""Where the address holds the engine whose case is shown."""
CONFIDENCE = [50, 60, 70, 80, 90, 95]
USAGE = {
    "0.5": "half of it",
    "0.75": "three quarters",
    "1.0": "as planned",
    "1.25": "a quarter more",
    "1.5": "half more",
}


@dataclass(frozen=True)
class Turned:
    """What the fundraiser turned."""

    vehicle: str
    window: str
    confidence: int
    usage: str

    def settings(self) -> Settings:
        """As the brief takes it; what is not turned keeps its default."""
        said = {"vehicle": self.vehicle, "window": self.window, "confidence": self.confidence / 100}
        settings = load_settings(settings_file(data.store().path), said)
        usage = {**settings.assumptions["usage"], "value": float(self.usage), "source": "set on the page"}
        if float(self.usage) == 1.0:
            return settings
        return replace(settings, assumptions={**settings.assumptions, "usage": usage})


Stamp = tuple[str, int, int, str, int]


def _stamp() -> Stamp:
    """Changes with the store's data and with the settings file."""
    found = settings_file(data.store().path)
    return *data.identity(), data.version(), str(found or ""), found.stat().st_mtime_ns if found else 0


@st.cache_resource(show_spinner="Simulating what is ahead …", max_entries=6)
def _given(stamp: Stamp, run_id: str, vehicle: str, usage: str) -> tuple[Material, CaseInputs]:  # noqa: ARG001
    material = read_material(data.store(), run_id)
    return material, prepare(material, Turned(vehicle, "", 80, usage).settings())


def given(run_id: str, turn: Turned) -> tuple[Material, CaseInputs]:
    """The simulation for a vehicle and its usage, made once for each data version; not to be changed."""
    return _given(_stamp(), run_id, turn.vehicle, turn.usage)


def engine(view: InView) -> str:
    """The engine whose case is shown: the one chosen, else the one that is stopped first."""
    chosen = address.chosen(ENGINE)
    return chosen if chosen in set(view.forecast["vehicle"]) else choose_vehicle(view.forecast, view.vehicle)


def turn(view: InView) -> Turned:
    """The knobs: engine, window, confidence, usage."""
    vehicles = sorted(view.forecast["vehicle"].unique())
    first = choose_vehicle(view.forecast, view.vehicle)
    cells = st.columns(4)
    with cells[0]:
        vehicle = address.pick(st.selectbox, "Engine", vehicles, ENGINE, default=first)
    with cells[3]:
        usage = address.pick(
            st.selectbox, "Miles run", list(USAGE), "usage", default="1.0", words=USAGE.__getitem__
        )
    _, inputs = given(view.run_id, Turned(vehicle, "", 80, usage))
    days = [f"{day:%Y-%m-%d}" for day in inputs.windows["opens"]]
    with cells[1]:
        window = address.pick(st.selectbox, "Work begins", ["", *days], "opens", words=_window_words)
    with cells[2]:
        sure = address.pick(
            st.selectbox,
            "Enough in",
            [str(c) for c in CONFIDENCE],
            "sure",
            default="80",
            words="{} of 100 cases".format,
        )
    return Turned(vehicle, window, int(sure), usage)


def _window_words(day: str) -> str:
    return f"{pd.Timestamp(day):%B %Y}" if day else "next lay-up with work"


def kept(run: dict[Any, Any]) -> tuple[str, Turned]:
    """The forecast run and the choices of a case that was kept."""
    about = json.loads(run["about"])
    usage = about["assumptions"]["usage"]["value"]
    window = str(pd.Timestamp(about["window"]).date())
    return str(about["forecast_run"]), Turned(
        about["vehicle"], window, round(100 * about["confidence"]), str(usage)
    )


@st.cache_resource(show_spinner="Reckoning the case …", max_entries=24)
def _case(stamp: Stamp, run_id: str, turned_to: Turned) -> Case:  # noqa: ARG001
    return turned(given(run_id, turned_to)[1], turned_to.settings())


def case_for(run_id: str, turned_to: Turned) -> tuple[Case, Material]:
    """The case by what was turned; not to be changed."""
    case = _case(_stamp(), run_id, turned_to)
    return case, given(run_id, turned_to)[0]


def looks_of(turned_to: Turned) -> BriefSettings:
    """Title, logo, paper and language of numbers, as the settings file has them."""
    settings = turned_to.settings()
    return settings_of(settings.brief, settings.excursions)


def as_brief(case: Case, looks: BriefSettings) -> Brief:
    """The case in the words of the printed brief."""
    return compose(case, looks, pd.Timestamp.now().normalize())


def shown(brief: Brief) -> None:
    """The case as donors read it."""
    for cell, card in zip(st.columns(len(brief.cards)), brief.cards, strict=True):
        cell.metric(card.label, card.figure)
        cell.caption(show.plain(card.note))
    picture(brief.progress, brief.progress_alt, "progress")
    for section in brief.sections:
        _section(section)


def _section(section: Section) -> None:
    st.subheader(show.plain(section.heading))
    for words in section.paragraphs:
        st.markdown(show.plain(words))
    if section.picture:
        picture(section.picture, section.alt, _stem(section.heading))
    if section.bullets:
        st.markdown("\n".join(f"- {show.plain(words)}" for words in section.bullets))
    for table in section.tables:
        rows = [*table.rows, table.total] if table.total else table.rows
        words = f"{section.heading}: {table.head[0]}"
        show.words_table(table.head, rows, alt_text=words, total=bool(table.total), words=table.words)
        if table.note:
            st.caption(show.plain(table.note))
        show.downloads(pd.DataFrame(rows, columns=table.head), _stem(words))


def _stem(heading: str) -> str:
    """A heading as the name of a file."""
    return "-".join(re.findall(r"[a-z0-9]+", heading.lower()))


def picture(svg: str, alt: str, name: str) -> None:
    """A drawing of our own as an image with its words, and its download."""
    coded = base64.b64encode(svg.encode()).decode()
    image = f'<img src="data:image/svg+xml;base64,{coded}" alt="{escape(alt)}">'
    # It may scroll sideways, and so must be reachable by keyboard.
    region = f'class="wide-picture" tabindex="0" role="group" aria-label="{escape(alt)}"'
    st.html(f"<div {region}>{image}</div>")
    show.download("SVG", lambda: svg.encode(), f"{name}.svg", "image/svg+xml")


def files(brief: Brief, case: Case, looks: BriefSettings) -> None:
    """The brief and the campaign's picture as downloads; made when asked for."""
    money = numbers(looks.numbers, case.currency)
    campaign = campaign_of(case, looks)
    name = f"brief-{case.vehicle}".replace("/", "-")
    with st.container(horizontal=True):
        for word, made, file, mime in (
            (
                "Brief as PDF",
                lambda: render_pdf(brief, paper=looks.paper, logo=looks.logo),
                f"{name}.pdf",
                "application/pdf",
            ),
            ("Brief as HTML", lambda: render_html(brief, looks.logo).encode(), f"{name}.html", "text/html"),
            (
                "Progress picture, SVG",
                lambda: campaign_svg(campaign, money).encode(),
                f"{name}.svg",
                "image/svg+xml",
            ),
            ("Progress picture, PNG", lambda: campaign_png(campaign, money), f"{name}.png", "image/png"),
        ):
            st.download_button(word, made, file, mime, key=f"get-{word}", on_click="ignore")


def keep(case: Case, material: Material, turned_to: Turned) -> None:
    """Keep the case; donors see the one kept last."""
    if st.button("Keep this case", help="Donors with a link see the case that was kept last."):
        save_case(data.store(), case, material, turned_to.settings())
        st.success("Kept. A link for donors now shows this case.")


def newest_kept() -> dict[Any, Any]:
    """The case that was kept last.

    Raises
    ------
    NotPossible : none was kept yet.
    """
    runs = data.runs("case") if data.exists() else pd.DataFrame()
    if runs.empty:
        raise NotPossible(
            "There is no case to show yet. The people who sent you this link are working on it."
        )
    return dict(runs.iloc[0])


def for_donors() -> None:
    """The case that was kept last, as donors read it: the whole of what their link shows."""
    run_id, turned_to = kept(newest_kept())
    case, _ = case_for(run_id, turned_to)
    looks = looks_of(turned_to)
    brief = as_brief(case, looks)
    st.title(show.plain(brief.title))
    st.markdown(show.plain(brief.subtitle))
    for words in brief.intro:
        st.markdown(show.plain(words))
    shown(brief)
    files(brief, case, looks)
    st.caption(show.plain(brief.footer))
