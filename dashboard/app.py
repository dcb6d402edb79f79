"""The pages, and what stands around each of them. Streamlit runs this file for every session."""

from base64 import b64encode
from collections.abc import Callable, Hashable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from dashboard.screen import access, address, data, show
from dashboard.screen.in_view import ALL, look_back, person
from dashboard.words.cautions import FORECAST_CAUTION
from dashboard.words.units_shown import DISTANCES, LENGTHS
from ingest.errors import UserError

VIEWS = Path(__file__).with_name("views")
# A named icon would be fetched from elsewhere, and a file is shown only to who is signed in.
ICON = (
    "data:image/png;base64,"
    + b64encode(Path(__file__).with_name("assets").joinpath("icon.png").read_bytes()).decode()
)

QUESTIONS: dict[str, tuple[str, str, access.Act, str]] = {
    "first": ("What will stop us first?", "", "look", ":material/flag:"),
    "point": ("One wear point", "point", "look", ":material/show_chart:"),
    "engine": ("Readings at the engine", "engine", "add", ":material/straighten:"),
    "batch": ("Is this batch right?", "batch", "add", ":material/rule:"),
    "fit": ("Does it still fit together?", "fit", "look", ":material/join_inner:"),
    "opening": ("What did the opening show?", "opening", "look", ":material/construction:"),
    "parts": ("Where are our parts?", "parts", "look", ":material/inventory_2:"),
    "facts": ("What is known of each vehicle?", "facts", "look", ":material/fact_check:"),
    "window": ("When do we open it, and what is in it?", "window", "look", ":material/event:"),
    "case": ("What does it cost, and why now?", "case", "look", ":material/payments:"),
    "record": ("How good were our forecasts?", "record", "look", ":material/target:"),
    "how": ("How a forecast is made", "how", "look", ":material/menu_book:"),
    "words": ("What the words mean", "words", "look", ":material/dictionary:"),
}  # view: title, address, what one must be allowed to do, icon


NO_ROLES = (
    "The file that says who may do what cannot be used, so nobody is let in. Whoever runs this dashboard: "
    "start `milesleft serve` with it again; it says what is wrong."
)

# Questions that are too long for the sidebar.
SHORT = {"window": "When do we open it?", "case": "What does it cost?"}


def page(view: str) -> st.Page:
    """The page of a view."""
    title, url_path, _, icon = QUESTIONS[view]
    return st.Page(VIEWS / f"{view}.py", title=title, url_path=url_path, icon=icon, default=view == "first")


def main() -> None:
    """One run of the dashboard for one session."""
    st.set_page_config(page_title="milesleft", page_icon=ICON, layout="wide")
    st.html(Path(__file__).with_name("assets") / "page.css")
    try:
        roles = access.roles_in_use()
    except UserError:
        # Whoever comes by may know neither where the file lies nor who is named in it.
        st.error(NO_ROLES)
        return
    donor = address.chosen(address.SHARE)
    link = access.donor_link(roles, donor, datetime.now(UTC)) if roles and donor else "unknown"
    if link != "unknown":
        _run(_donor_page() if link == "open" else _ended_page())
        return
    if roles and not _signed_in(roles):
        return
    who = person()
    pages = {view: page(view) for view, (_, _, act, _) in QUESTIONS.items() if who.may(act)}
    closed = [_closed(view, _no_entry) for view in QUESTIONS if view not in pages]
    current = st.navigation([*pages.values(), *closed], position="hidden")
    with st.sidebar:
        _links(pages)
        with show.problems():  # the page says what is wrong too; the way to the others stays open
            _choices(who, signed_in=roles is not None)
    _run(current)


def _run(current: st.Page) -> None:
    """The page, a problem in plain words where there is one, and the caution under it."""
    with show.problems():
        current.run()
    st.caption(f":material/info: {FORECAST_CAUTION}")


def _donor_page() -> st.Page:
    """The case at every address: no other page is known to this session."""
    from dashboard.sections.case import for_donors

    return st.navigation([_closed(view, for_donors) for view in QUESTIONS], position="hidden")


def _ended_page() -> st.Page:
    """What a link for donors shows when its days are over."""

    def ended() -> None:
        st.title("This link has ended")
        st.markdown("It was good for a time, and that is over. Ask the people who sent it for a new one.")

    return st.navigation([_closed(view, ended) for view in QUESTIONS], position="hidden")


def _signed_in(roles: access.Roles) -> bool:
    """Whether somebody with a role is signed in; otherwise the way in is on the screen."""
    if not st.user.is_logged_in:
        _door("This dashboard is for the people who keep the engines. Sign in to go on.", "Sign in")
        return False
    found = roles.person(st.user.to_dict(), datetime.now(UTC))
    if isinstance(found, str):
        _door(show.plain(found), "Sign in with another account")
        return False
    return True


def _door(message: str, word: str) -> None:
    """The way in, whatever address was asked for."""

    def door() -> None:
        st.title("milesleft")
        st.markdown(message)
        st.button(word, type="primary", on_click=st.login)

    _run(st.navigation([_closed(view, door) for view in QUESTIONS], position="hidden"))


def _closed(view: str, instead: Callable[[], None]) -> st.Page:
    """A page that stands at the address of a view but shows something else."""
    title, url_path, _, _ = QUESTIONS[view]
    return st.Page(instead, title=title, url_path=url_path, default=view == "first")


def _no_entry() -> None:
    st.title("Not open to you")
    st.markdown(
        "This page changes what is on record, and your role here is to look. Ask for more if you need it."
    )


def _links(pages: dict[str, st.Page]) -> None:
    st.markdown("### miles left")
    for view, target in pages.items():
        st.page_link(target, label=SHORT.get(view), query_params=address.link())
    st.divider()


def _choices(who: access.Person, *, signed_in: bool) -> None:
    if data.exists():
        _what_is_looked_at()
    address.pick(st.selectbox, "Lengths in", list(LENGTHS), address.LENGTH, words=LENGTHS.__getitem__)
    address.pick(st.selectbox, "Distances in", list(DISTANCES), address.DISTANCE, words=DISTANCES.__getitem__)
    if signed_in:
        st.caption(f"Signed in as {show.plain(who.name)}")
        st.button("Sign out", on_click=st.logout, type="tertiary")


def _what_is_looked_at() -> None:
    vehicles = data.table("vehicles")
    names = dict(zip(vehicles["vehicle"], vehicles["name"].fillna(""), strict=True))

    def words(vehicle: str) -> str:
        if vehicle == ALL:
            return "all vehicles"
        return f"{vehicle} – {names[vehicle]}" if names[vehicle] else vehicle

    address.pick(st.selectbox, "Vehicle", [ALL, *names], address.VEHICLE, words=words)
    runs = data.runs("forecast")
    if len(runs) > 1:
        made = {str(run["run_id"]): _run_words(run) for run in runs.to_dict("records")}
        address.pick(
            st.selectbox,
            "Forecast",
            list(made),
            address.RUN,
            words=made.__getitem__,
            help="Every forecast is kept. Choose an earlier one to see what was known then.",
        )
    look_back()


def _run_words(run: dict[Hashable, Any]) -> str:
    when = pd.to_datetime(str(run["as_of"]), errors="coerce")
    said = f"as of {when:%-d %b %Y}" if pd.notna(when) else "as of the last mileage"
    return f"{said}, made {run['made_at']:%-d %b %Y %H:%M}"


main()
