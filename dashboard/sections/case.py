"""The parts of the case's page: what is turned, the case as donors read it, what is taken along."""

import base64
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from html import escape

import pandas as pd
import streamlit as st

from dashboard.papers.brief import Brief, BriefSettings, compose, render_html, render_pdf, settings_of
from dashboard.papers.brief_kept import FRAME, KeptBrief, from_frame, frozen, keep_brief
from dashboard.papers.brief_words import Section
from dashboard.papers.campaign_picture import png_of
from dashboard.screen import address, data, show
from dashboard.screen.access import Person
from dashboard.screen.in_view import InView
from dashboard.services.brief_settings import Settings, load_settings, settings_file
from dashboard.services.casework import Material, choose_vehicle, prepare, read_material, turned
from dashboard.services.kept_cases import SHOWN, WITHDRAWN, decide_on_case, kept_cases, shown_to_donors
from dashboard.words.records import rows_of
from ingest.errors import NotPossible
from models.case.case import Case
from models.case.inputs import CaseInputs
from models.frequency import times_in

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
        vehicle = address.pick(st.selectbox, "Vehicle", vehicles, ENGINE, default=first)
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
            "The sum is enough",
            [str(c) for c in CONFIDENCE],
            "sure",
            default="80",
            words=lambda share: times_in(int(share) / 100),
        )
    return Turned(vehicle, window, int(sure), usage)


def _window_words(day: str) -> str:
    return f"{pd.Timestamp(day):%B %Y}" if day else "next lay-up with work"


@st.cache_resource(show_spinner="Working out the case …", max_entries=24)
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
    pictures(brief.progress, brief.progress_narrow, brief.progress_alt, "progress")
    for section in brief.sections:
        _section(section)


def _section(section: Section) -> None:
    st.subheader(show.plain(section.heading))
    for words in section.paragraphs:
        st.markdown(show.plain(words))
    if section.picture:
        pictures(section.picture, section.picture_narrow, section.alt, _stem(section.heading))
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


def as_kept(case: Case, looks: BriefSettings) -> KeptBrief:
    """The brief of the case as it would be kept now."""
    return frozen(case, looks, pd.Timestamp.now().normalize())


def pictures(wide: str, narrow: str, alt: str, name: str) -> None:
    """A drawing of our own, whole at any width: cut off at the right, a bar would look fully funded."""
    start = "data:image/svg+xml;base64,"
    images = [("wide-screen", wide), ("narrow-screen", narrow or wide)]
    coded = [(shown_on, start + base64.b64encode(svg.encode()).decode()) for shown_on, svg in images]
    made = [f'<img class="bar {on}" src="{source}" alt="{escape(alt)}">' for on, source in coded]
    st.html("".join(made))
    show.download("SVG", lambda: wide.encode(), f"{name}.svg", "image/svg+xml")


def files(kept: KeptBrief) -> None:
    """The brief and the campaign's picture as downloads; made when asked for."""
    brief = kept.brief
    name = f"brief-{kept.vehicle}".replace("/", "-")
    picture_svg = kept.campaign
    made: list[tuple[str, Callable[[], bytes], str, str]] = [
        (
            "Brief as PDF",
            lambda: render_pdf(brief, paper=kept.paper, logo=kept.logo),
            f"{name}.pdf",
            "application/pdf",
        ),
        ("Brief as HTML", lambda: render_html(brief, kept.logo).encode(), f"{name}.html", "text/html"),
        ("Progress picture, SVG", picture_svg.encode, f"{name}.svg", "image/svg+xml"),
        ("Progress picture, PNG", lambda: png_of(picture_svg), f"{name}.png", "image/png"),
    ]
    with st.container(horizontal=True):
        for word, make, file, mime in made:
            st.download_button(word, make, file, mime, key=f"get-{word}", on_click="ignore")


def keep(case: Case, material: Material, turned_to: Turned) -> None:
    """Keep the brief as it is now; donors see it only when it is shown to them."""
    words = "It is kept as it stands here, words, figures and pictures. Donors do not see it yet."
    if st.button("Keep this brief", help=words):
        now = pd.Timestamp.now().normalize()
        keep_brief(data.store(), case, material, turned_to.settings(), looks_of(turned_to), now)
        st.success("Kept. Donors see it when it is shown to them, below.")


def kept_and_shown(who: Person) -> None:
    """The briefs kept, and which of them donors see; showing one is a step of its own."""
    cases = kept_cases(data.runs("case"), data.decisions("case"))
    if cases.empty:
        return
    st.subheader("Briefs kept")
    shown_now = shown_to_donors(cases)
    named = {row.run_id: f"{row.name}, kept {row.made_at:%-d %b %Y %H:%M}" for row in rows_of(cases)}
    seen = show.plain(named[shown_now]) if shown_now else ""
    st.markdown(f"Donors with a link see: **{seen}**." if seen else "Donors with a link see none of them.")
    if not who.may("all"):
        return
    run = st.selectbox("Brief", list(named), format_func=named.__getitem__, key="kept-brief")
    with st.container(horizontal=True):
        if st.button("Show it to donors", disabled=run == shown_now):
            _decide(cases, run, SHOWN, who)
        if st.button("Take back what donors see", disabled=shown_now is None):
            _decide(cases, str(shown_now), WITHDRAWN, who)


def _decide(cases: pd.DataFrame, run: str, state: str, who: Person) -> None:
    name = str(cases.loc[cases["run_id"] == run, "name"].iloc[0])
    decide_on_case(data.store(), run, name, state, who=who.name)
    st.rerun()


def for_donors() -> None:
    """The brief that is shown to donors, as it was kept: the whole of what their link shows.

    Raises
    ------
    NotPossible : none is shown.
    """
    cases = kept_cases(data.runs("case"), data.decisions("case")) if data.exists() else pd.DataFrame()
    run = shown_to_donors(cases) if len(cases) else None
    if run is None:
        raise NotPossible(
            "There is no brief to show yet. The people who sent you this link are working on it."
        )
    kept = from_frame(data.frame(run, FRAME))
    st.title(show.plain(kept.brief.title))
    st.markdown(show.plain(kept.brief.subtitle))
    for words in kept.brief.intro:
        st.markdown(show.plain(words))
    shown(kept.brief)
    files(kept)
    st.caption(show.plain(kept.brief.footer))
