"""Cautions on every page of every paper; the demo's say that its railway is invented."""

from dataclasses import replace
from io import BytesIO

from briefs.example_case import EN, MADE_ON
from pypdf import PdfReader

from dashboard.papers.brief import BriefSettings, campaign_of, compose, render_pdf
from dashboard.papers.campaign_picture import campaign_svg
from dashboard.words.cautions import INVENTED

SUPPORTS = "supports and never replaces"


def pages(content):
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages]


def test_every_page_of_a_brief_bears_the_caution(case):
    for paper in ("a4", "letter"):
        texts = pages(render_pdf(compose(case, BriefSettings(), MADE_ON), paper=paper))
        assert len(texts) == 2
        assert all(SUPPORTS in text for text in texts)
        assert not any(INVENTED in text for text in texts)


def test_papers_of_the_demo_say_that_the_railway_is_invented(case):
    invented = replace(case, invented=True)
    texts = pages(render_pdf(compose(invented, BriefSettings(), MADE_ON)))
    assert all(INVENTED in text for text in texts)
    assert INVENTED in campaign_svg(campaign_of(invented, BriefSettings()), EN)


def test_the_progress_picture_bears_the_caution(case):
    assert "never replaces inspection" in campaign_svg(campaign_of(case, BriefSettings()), EN)
