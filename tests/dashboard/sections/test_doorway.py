"""The way to the page at the engine: its address, and whether a telephone keeps it for later."""

import pytest
from pages.without_browser import opened, said

from dashboard.sections.doorway import HOW, address_of, keeps_for_offline, only_here


@pytest.mark.parametrize(
    ("page", "address"),
    [
        ("https://wear.example.org/milesleft/engine", "https://wear.example.org/milesleft/pit/"),
        ("https://wear.example.org/engine/", "https://wear.example.org/pit/"),
        ("http://127.0.0.1:8501/engine", "http://127.0.0.1:8501/pit/"),
        ("http://127.0.0.1:8501", "http://127.0.0.1:8501/pit/"),
        (None, ""),
    ],
)
def test_the_address_is_that_of_the_dashboard_with_its_base_path(page, address):
    assert address_of(page) == address


@pytest.mark.parametrize(
    ("address", "kept"),
    [
        ("https://wear.example.org/pit/", True),
        ("http://localhost:8501/pit/", True),
        ("http://[::1]:8501/pit/", True),
        ("http://192.168.4.20:8501/pit/", False),
        ("http://localhost.example.org/pit/", False),
    ],
)
def test_without_https_only_this_machine_keeps_the_page(address, kept):
    assert keeps_for_offline(address) == kept
    assert only_here(address) == (kept and address.startswith("http:"))


def test_the_page_leads_to_telephone_and_desk_and_answers_what_people_ask(reader):
    page = opened(reader, "engine")
    links = [link.proto.url for link in page.get("link_button")]
    assert links == ["pit/", "pit/desk"]
    text = said(page)
    for question in HOW:
        assert question in text or question in [head.value for head in page.subheader]
    assert "signed_out" in text
