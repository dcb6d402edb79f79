"""The brief as PDF and HTML: pages, logo, what users write, languages of numbers."""

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from briefs.example_case import EN, MADE_ON, example, pdf_text
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from dashboard.papers import brief_words
from dashboard.papers.brief import BriefSettings, campaign_of, compose, render_html, render_pdf
from dashboard.papers.brief_logo import check_logo
from dashboard.papers.campaign_picture import campaign_svg
from dashboard.words.cautions import FORECAST_CAUTION


def test_caution_stands_in_every_brief_whatever_the_settings(case):
    brief = compose(case, BriefSettings(title="t", intro="i"), MADE_ON)
    assert brief_words.CAUTION in render_html(brief)
    assert brief_words.CAUTION.replace("’", "'").startswith(f"{FORECAST_CAUTION} ")  # one caution everywhere
    assert "never replaces inspection" in pdf_text(render_pdf(brief))


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_pdf_has_two_pages_of_the_paper_asked_for(brief, paper, size):
    from io import BytesIO

    reader = PdfReader(BytesIO(render_pdf(brief, paper=paper)))
    assert len(reader.pages) == 2
    assert tuple(float(side) for side in reader.pages[0].mediabox[2:]) == pytest.approx(size, abs=0.1)
    assert reader.metadata.title == brief.title


def test_pdf_and_html_hold_the_same_words(brief):
    printed = " ".join(pdf_text(render_pdf(brief)).split())
    page = " ".join(re.sub(r"<[^>]+>", " ", render_html(brief)).split())
    for section in brief.sections:
        assert section.heading in printed
        assert section.heading.replace("'", "&#39;") in page
    for text in ("$148,000", "$131,000", "$52,300", "$95,700"):
        assert text in printed
        assert text in page


def test_html_is_self_contained(brief):
    page = render_html(brief)
    assert "<script" not in page
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!data:|#)""", page)
    assert not re.search(r"url\((?!#)", page)
    assert "default-src 'none'" in page


NASTY = [
    "<script>alert(1)</script>",
    '#panic("x") #read("/etc/passwd") $ x $ *bold* _it_ @ref <label> `raw` // c \\',
    "{{ 7 * 7 }} {% raw %} {# #}",
    '"><img src=x onerror=alert(1)>',
    "]]> & &amp; <!-- -->",
    "Zwölf Žluťoučký κόσμος № 12 – ‘quoted’",
    "a\x00b\x1bc\u202e\ufffe",
    "#" * 50 + "[" * 50,
]


@pytest.mark.parametrize("text", NASTY)
def test_what_users_write_is_shown_as_it_is_and_does_nothing(case, text):
    brief = compose(case, BriefSettings(title=text, intro=text, railway=text), MADE_ON)
    page = render_html(brief)
    assert "<script>" not in page
    assert "<img src=x" not in page
    assert "49" not in re.search(r"<h1>(.*?)</h1>", page).group(1)
    ElementTree.fromstring(campaign_svg(campaign_of(case, BriefSettings(title=text)), EN))
    printed = pdf_text(render_pdf(brief))
    for word in re.findall(r"[A-Za-z]{4,}", text):
        assert word in printed.replace("\n", "")


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=60))
def test_any_text_makes_a_brief(case, text):
    brief = compose(case, BriefSettings(title=text, intro=text, railway=text), MADE_ON)
    assert render_pdf(brief)[:5] == b"%PDF-"
    assert render_html(brief).count("<h1>") == 1


def test_component_names_from_the_data_do_nothing_either():
    nasty = "<b>tire</b> #box"
    case = example()
    case = replace(
        case,
        remaining=case.remaining.assign(label=nasty),
        lines=case.lines.assign(component=nasty),
        gifts=case.gifts.assign(component=nasty),
    )
    brief = compose(case, BriefSettings(), MADE_ON)
    page = render_html(brief)
    assert "<b>tire" not in page
    assert "&lt;b&gt;tire&lt;/b&gt; #box" in page
    ElementTree.fromstring(brief.sections[0].picture)
    assert "#box" in pdf_text(render_pdf(brief))


PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c4890000000d49444154789c6360606060000000050001a5f64540"
    "0000000049454e44ae426082"
)


def test_logo_is_in_both(case):
    logo = check_logo(PNG, "logo.png")
    brief = compose(case, BriefSettings(railway="Fernmoor"), MADE_ON)
    assert 'src="data:image/png;base64,' in render_html(brief, logo)
    assert render_pdf(brief, logo=logo).count(b"/Image") > render_pdf(brief).count(b"/Image")
    drawing = check_logo(
        b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><rect width="9" height="9"/></svg>',
        "l",
    )
    assert render_pdf(brief, logo=drawing)[:5] == b"%PDF-"


def test_a_broken_logo_is_the_users_to_mend(case):
    from ingest.errors import UnreadableFile

    brief = compose(case, BriefSettings(), MADE_ON)
    with pytest.raises(UnreadableFile, match="cannot be drawn"):
        render_pdf(brief, logo=check_logo(PNG[:40] + b"\0" * 40, "broken.png"))


def test_other_languages_of_numbers(case):
    page = render_html(compose(case, BriefSettings(numbers="de"), MADE_ON))
    assert "148.000\xa0$" in page
    assert "3.900" in page


def test_brief_needs_neither_network_nor_system_fonts():
    """In a process of its own: no socket may be opened, and no font outside the writer is looked for."""
    tests = Path(__file__).parents[2]
    script = (
        "import socket, sys\n"
        "def no(*a, **k): raise OSError('network')\n"
        "socket.socket.connect = no; socket.getaddrinfo = no\n"
        f"sys.path.append({str(tests)!r})\n"
        "from briefs.example_case import EN, MADE_ON, example\n"
        "from dashboard.papers import brief, campaign_picture\n"
        "looks = brief.BriefSettings()\n"
        "made = brief.compose(example(), looks, MADE_ON)\n"
        "assert brief.render_pdf(made).startswith(b'%PDF-') and brief.render_html(made)\n"
        "campaign_picture.campaign_png(brief.campaign_of(example(), looks), EN)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
