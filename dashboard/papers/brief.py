"""The fundraising brief: a case, the user's words and a logo, as PDF or as one self-contained HTML file.

What users write is data in both: the PDF's layout reads it from a file of data, the HTML is escaped.
"""

import base64
import json
import tempfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.papers import brief_words
from dashboard.papers.brief_logo import Logo, read_logo
from dashboard.papers.brief_svg import clean
from dashboard.papers.brief_tables import Rounded, rounded
from dashboard.papers.brief_words import Section
from dashboard.papers.campaign_picture import NARROW, Campaign, campaign_png, campaign_svg
from dashboard.papers.excursion_words import with_excursions
from dashboard.words.cautions import FORECAST_CAUTION, INVENTED
from dashboard.words.numbers import Numbers, numbers
from ingest.errors import UnreadableFile, WrongUsage
from ingest.writing import write_whole
from models.case.case import Case
from models.case.excursion import Excursion, cost_of_excursions

TEMPLATES = Path(__file__).parent / "brief_templates"
PAPERS = {"a4": "a4", "letter": "us-letter"}
MOST_PAGES = 2
SCALES = (1.0, 0.95, 0.9, 0.85)
"""Sizes of type that are tried until the brief fits its pages; a very long intro takes more pages."""
FONTS = ["Libertinus Serif", "DejaVu Sans", "Noto Sans", "Noto Sans CJK SC"]
"""The first comes with the PDF writer; the others help with scripts it lacks, where they are installed."""


@dataclass(frozen=True)
class BriefSettings:
    """What the user sets. Empty ``title`` and ``intro`` take the words of ``brief_words``."""

    title: str = ""
    intro: str = ""
    railway: str = ""
    paper: str = "a4"
    numbers: str = "en"
    logo: Logo | None = None
    excursions: tuple[Excursion, ...] = ()


@dataclass(frozen=True)
class Brief:
    """The brief as text and pictures, before any layout."""

    title: str
    subtitle: str
    intro: list[str]
    cards: list[brief_words.Card]
    progress: str
    progress_alt: str
    sections: list[Section]
    footer: str
    logo_alt: str
    caution_heading: str = brief_words.CAUTION_HEADING
    caution: str = brief_words.CAUTION
    caution_short: str = FORECAST_CAUTION
    progress_narrow: str = ""
    fonts: list[str] = field(default_factory=lambda: list(FONTS))


def compose(case: Case, settings: BriefSettings, made_on: pd.Timestamp) -> Brief:
    """Write the brief of a case."""
    shown = numbers(settings.numbers, case.currency)
    sums = rounded(case)
    intro = [clean(text) for text in settings.intro.split("\n\n") if clean(text)]
    campaign = campaign_of(case, settings)
    return Brief(
        title=clean(settings.title) or brief_words.default_title(case),
        subtitle=brief_words.subtitle(case, clean(settings.railway)),
        intro=intro or brief_words.default_intro(case),
        cards=brief_words.cards(case, sums, shown),
        progress=campaign_svg(campaign, shown, headed=False),
        progress_narrow=campaign_svg(campaign, shown, headed=False, width=NARROW),
        progress_alt=f"{shown.money(sums.in_hand)} in hand of {shown.money(sums.ask)}",
        sections=_sections(case, settings, sums, shown),
        footer=brief_words.footer(case, made_on),
        logo_alt=f"Logo of {clean(settings.railway)}" if clean(settings.railway) else "Logo",
    )


def _sections(case: Case, settings: BriefSettings, sums: Rounded, shown: Numbers) -> list[Section]:
    """The parts of the brief; where it says what a mile costs, the excursions that the user named too."""
    parts = brief_words.sections(case, sums, shown)
    if not settings.excursions:
        return parts
    cost = cost_of_excursions(case.mile, settings.excursions, case.mile_whole)
    return [
        with_excursions(part, cost, case, shown) if part.heading == brief_words.MILE_HEADING else part
        for part in parts
    ]


def campaign_of(case: Case, settings: BriefSettings) -> Campaign:
    """The campaign's progress, for its picture."""
    sums = rounded(case)
    return Campaign(
        title=clean(settings.title) or brief_words.default_title(case),
        in_hand=float(sums.in_hand),
        promised=float(sums.promised),
        half_way=float(sums.half_way),
        goal=float(sums.ask),
        needed_by=case.opens,
        as_of=case.fund.as_of,
        confidence=case.confidence,
        caution=f"{INVENTED} {FORECAST_CAUTION}" if case.invented else FORECAST_CAUTION,
    )


def render_html(brief: Brief, logo: Logo | None = None) -> str:
    """One self-contained HTML page: styles, pictures and logo inside, no script, nothing loaded."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    # Only pictures that we drew go in as they are; their texts were escaped when they were drawn.
    page = environment.get_template("brief.html.j2")
    data = f"data:{logo.mime};base64,{base64.b64encode(logo.content).decode()}" if logo else ""
    return page.render(brief=brief, logo=data, picture=Markup)


def render_pdf(brief: Brief, *, paper: str = "a4", logo: Logo | None = None) -> bytes:
    """The brief as a tagged PDF on A4 or US letter paper, PDF/UA-1 where every sign has a font.

    Raises
    ------
    UnreadableFile : the logo is damaged.
    """
    import typst

    data: dict[str, Any] = asdict(brief) | {"paper": PAPERS[paper], "logo": logo.file_name if logo else ""}
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "brief.typ").write_bytes((TEMPLATES / "brief.typ").read_bytes())
        if logo:
            (root / logo.file_name).write_bytes(logo.content)
        for scale in SCALES:
            (root / "brief.json").write_text(json.dumps(data | {"scale": scale}), encoding="utf-8")
            compiler = typst.Compiler(str(root / "brief.typ"), root=str(root), font_paths=_fonts())
            made = _set(compiler, logo)
            if json.loads(compiler.query("<pages>", field="value", one=True)) <= MOST_PAGES:
                break
    return made


def _set(compiler: Any, logo: Logo | None) -> bytes:  # noqa: ANN401 - the PDF writer ships no types
    """Set the brief. A text in a script without a font here is set with boxes, not refused."""
    import typst

    try:
        return bytes(compiler.compile(format="pdf", pdf_standards=["ua-1"]))
    except typst.TypstError as error:
        if "image" in str(error) and logo:
            raise UnreadableFile(
                f"Logo: it cannot be drawn ({str(error).split('(')[-1].rstrip(')')}). Expected an undamaged "
                "PNG, JPEG or SVG picture; save it again."
            ) from None
    return bytes(compiler.compile(format="pdf"))


@cache
def _fonts() -> Any:  # noqa: ANN401 - the PDF writer ships no types
    """Fonts of the PDF writer and of this machine, looked up once."""
    import typst

    return typst.Fonts()


def settings_of(brief: Mapping[str, Any], excursions: tuple[Excursion, ...] = ()) -> BriefSettings:
    """The looks of the brief from the settings; the logo is read and checked here."""
    return BriefSettings(
        title=str(brief["title"]),
        intro=str(brief["intro"]),
        railway=str(brief["railway"]),
        paper=str(brief["paper"]),
        numbers=str(brief["numbers"]),
        logo=read_logo(Path(str(brief["logo"]))) if brief["logo"] else None,
        excursions=excursions,
    )


def check_targets(out: Path | None, picture: Path | None, *, as_json: bool, asked: bool = False) -> None:
    """Say before any work is done that a file cannot be written; ``asked``: what is printed is enough."""
    if out is None and picture is None and not (as_json or asked):
        raise WrongUsage("brief: nowhere to write it. Give --out FILE.pdf or FILE.html, or --json.")
    for path, endings in ((out, (".pdf", ".html")), (picture, (".svg", ".png"))):
        if path is None:
            continue
        if path.suffix.lower() not in endings:
            raise WrongUsage(f"{path}: its name ends in {path.suffix!r}. Expected {' or '.join(endings)}.")
        if not path.absolute().parent.is_dir():
            raise WrongUsage(
                f"{path}: there is no folder {path.absolute().parent}. Make it, or choose another."
            )


def write_brief(out: Path, case: Case, settings: BriefSettings, made_on: pd.Timestamp) -> Path:
    """Write the brief of a case as PDF or HTML, by the ending of the name."""
    brief = compose(case, settings, made_on)
    if out.suffix.lower() == ".pdf":
        return _write(out, render_pdf(brief, paper=settings.paper, logo=settings.logo))
    return _write(out, render_html(brief, settings.logo).encode())


def write_picture(out: Path, case: Case, settings: BriefSettings) -> Path:
    """Write the campaign's progress picture as SVG or PNG, by the ending of the name."""
    campaign, shown = campaign_of(case, settings), numbers(settings.numbers, case.currency)
    if out.suffix.lower() == ".png":
        return _write(out, campaign_png(campaign, shown))
    return _write(out, campaign_svg(campaign, shown).encode())


def _write(out: Path, content: bytes) -> Path:
    write_whole(out, content)
    return out
