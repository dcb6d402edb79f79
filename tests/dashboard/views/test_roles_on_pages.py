"""What each role finds on the pages: nobody is offered a change that is not theirs to make."""

import pytest
from pages.without_browser import opened

from dashboard.screen.access import Person

CHANGES = {  # page: the button that changes something, and the roles that may
    "point": ("Save", {"add", "all"}),
    "window": ("Plan", {"plan", "all"}),
    "record": ("Score now", {"plan", "all"}),
    "first": ("Forecast as of this day", {"add", "plan", "all"}),
}


@pytest.mark.parametrize("role", ["look", "add", "plan", "all"])
@pytest.mark.parametrize("view", CHANGES)
def test_a_change_is_offered_only_to_who_may_make_it(reader, monkeypatch, view, role):
    monkeypatch.setattr("dashboard.screen.in_view.person", lambda: Person("somebody", role))
    button, roles = CHANGES[view]
    page = opened(reader, view)
    assert (button in [each.label for each in page.button]) == (role in roles)


@pytest.mark.parametrize("role", ["look", "add", "plan", "all"])
def test_the_pages_that_change_data_are_listed_only_to_who_may(reader, monkeypatch, role):
    monkeypatch.setattr("dashboard.screen.in_view.person", lambda: Person("somebody", role))
    listed = [link.proto.page for link in opened(reader, "first").get("page_link")]
    for page in ("engine", "batch"):
        assert (page in listed) == (role in ("add", "all"))
