"""A brief as it was kept: words, figures and pictures frozen, so that donors see what was shown to them."""

import base64
import json
from dataclasses import asdict, dataclass
from typing import Any

import pandas as pd

from dashboard.papers.brief import Brief, BriefSettings, campaign_of, compose, settings_of
from dashboard.papers.brief_logo import Logo
from dashboard.papers.brief_tables import Table
from dashboard.papers.brief_words import Card, Section
from dashboard.papers.campaign_picture import campaign_svg
from dashboard.services.brief_settings import Settings, load_settings
from dashboard.services.casework import Material, case_of, read_material, save_case
from dashboard.words.numbers import numbers
from ingest.store import Store
from models.case.case import Case

FRAME = "brief"
"""Frame of a run of the kind case that holds the frozen brief: one row, content (JSON)."""


@dataclass(frozen=True)
class KeptBrief:
    """All that a page shows of a brief and that its files are made from.

    Attributes
    ----------
    brief : words, figures and pictures. campaign : the progress picture for a web page, SVG.
    paper : a4 or letter. logo : the railway's own. vehicle : key of the engine, for the names of files.
    """

    brief: Brief
    campaign: str
    paper: str
    logo: Logo | None
    vehicle: str


def frozen(case: Case, looks: BriefSettings, made_on: pd.Timestamp) -> KeptBrief:
    """The brief of a case as it is now."""
    campaign = campaign_svg(campaign_of(case, looks), numbers(looks.numbers, case.currency))
    return KeptBrief(compose(case, looks, made_on), campaign, looks.paper, looks.logo, case.vehicle)


def as_frame(kept: KeptBrief) -> pd.DataFrame:
    """A kept brief as a frame of its run: column content."""
    logo = None
    if kept.logo is not None:
        content = base64.b64encode(kept.logo.content).decode()
        logo = {"content": content, "mime": kept.logo.mime, "file_name": kept.logo.file_name}
    parts = {
        "brief": asdict(kept.brief),
        "campaign": kept.campaign,
        "paper": kept.paper,
        "logo": logo,
        "vehicle": kept.vehicle,
    }
    return pd.DataFrame({"content": [json.dumps(parts)]})


def from_frame(frame: pd.DataFrame) -> KeptBrief:
    """A kept brief from the frame of its run."""
    parts: dict[str, Any] = json.loads(str(frame["content"].iloc[0]))
    said, logo = parts["brief"], parts["logo"]
    sections = [
        Section(**(section | {"tables": [Table(**table) for table in section["tables"]]}))
        for section in said["sections"]
    ]
    brief = Brief(**(said | {"cards": [Card(**card) for card in said["cards"]], "sections": sections}))
    picture = (
        None
        if logo is None
        else Logo(base64.b64decode(logo["content"]), str(logo["mime"]), str(logo["file_name"]))
    )
    return KeptBrief(brief, str(parts["campaign"]), str(parts["paper"]), picture, str(parts["vehicle"]))


def keep_brief(
    store: Store,
    case: Case,
    material: Material,
    settings: Settings,
    looks: BriefSettings,
    made_on: pd.Timestamp,
) -> str:
    """Keep a case with its brief as it is now; its run id. Donors see it only when it is shown to them."""
    return save_case(store, case, material, settings, {FRAME: as_frame(frozen(case, looks, made_on))})


def keep_usual_brief(store: Store) -> str:
    """Keep the brief that the defaults give, of the newest forecast and the plan that holds; its run id."""
    settings, material = load_settings(None, {}), read_material(store)
    made_on = pd.Timestamp.now().normalize()
    case = case_of(material, settings)
    return keep_brief(store, case, material, settings, settings_of(settings.brief), made_on)
