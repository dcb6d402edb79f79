"""The picture in the README is the first page of the demo, as it is now.

``MILESLEFT_PICTURE=write pytest tests/dashboard/views/test_readme_picture.py`` takes it again.
"""

import os
import re
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[3]
PICTURE = ROOT / "dashboard" / "assets" / "home.png"
SHOWS = "Shows"
HIGH = 1000


def words_in_sight(page):
    """The words on the page without figures, which may differ in their last digit from machine to machine."""
    text = page.locator('[data-testid="stApp"]').inner_text()
    return " ".join(re.sub(r"\S*\d\S*", "", text).split())


def take(page):
    """The picture as PNG of few colors, with the words that it shows kept inside."""
    shot = Image.open(BytesIO(page.screenshot())).convert("RGB").quantize(128)
    about = PngImagePlugin.PngInfo()
    about.add_itxt(SHOWS, words_in_sight(page))
    shot.save(PICTURE, pnginfo=about, optimize=True)


def test_the_picture_shows_what_the_first_page_says(served, browser_page):
    page = browser_page("desk")
    page.page.set_viewport_size({"width": 1440, "height": HIGH})
    page.open(served)
    page.page.get_by_role("heading", name="What will stop us first?", level=1).wait_for()
    page.page.get_by_text("never replaces inspection by qualified people").wait_for()
    if os.environ.get("MILESLEFT_PICTURE") == "write":
        take(page.page)
    with Image.open(PICTURE) as kept:
        size, shows = kept.size, kept.info.get(SHOWS)
    assert size == (1440, HIGH)
    assert shows == words_in_sight(page.page), "the README's picture is stale: see above"


def test_the_readme_shows_it():
    assert "(dashboard/assets/home.png)" in (ROOT / "README.md").read_text("utf-8")
    assert PICTURE.stat().st_size < 300_000
