"""Limits as data: published figures with their source, and the choice of the one that holds.

Each row of ``limits.csv`` is one figure of one text, with its paragraph, where it was read, the word that
decides at the figure itself (at / beyond) and the conditions under which it holds. Rows marked ``memory``
were not read in the text and carry that mark wherever they are shown. Nothing here is a constant in code.
"""

from ingest.catalogue.belongs import feature_of, goes_with, kind_of_part
from ingest.catalogue.choice import Chosen, Limit, choose, set_unit
from ingest.catalogue.classify import beside_names, classify, named, part_and_measure, role_of
from ingest.catalogue.conditions import Condition, holds, parse_conditions
from ingest.catalogue.differences import difference_limits, law_limits_of, ruled_assumptions
from ingest.catalogue.governing import Governing, governing, with_kind
from ingest.catalogue.own import own_limits
from ingest.catalogue.tables import (
    assumptions,
    cited,
    clocks,
    defects,
    families,
    family_of,
    figure,
    fits,
    limit_sets,
    limits,
    lives,
    measuring_practice,
    nothing_found,
    opening_practice,
    puts_out,
    reassembly_fits,
    set_of_source,
    sources,
    table_of,
)

__all__ = [
    "Chosen",
    "Condition",
    "Governing",
    "Limit",
    "assumptions",
    "beside_names",
    "choose",
    "cited",
    "classify",
    "clocks",
    "defects",
    "difference_limits",
    "families",
    "family_of",
    "feature_of",
    "figure",
    "fits",
    "goes_with",
    "governing",
    "holds",
    "kind_of_part",
    "law_limits_of",
    "limit_sets",
    "limits",
    "lives",
    "measuring_practice",
    "named",
    "nothing_found",
    "opening_practice",
    "own_limits",
    "parse_conditions",
    "part_and_measure",
    "puts_out",
    "reassembly_fits",
    "role_of",
    "ruled_assumptions",
    "set_of_source",
    "set_unit",
    "sources",
    "table_of",
    "with_kind",
]
