"""The contract: tables, their columns, kinds, units and keys. One declaration drives everything else.

The public columns are those of the files that people hand in and get out; the internal columns are
what normalising adds. Cheap to import: the checks built from it are in ``ingest.verdicts.contracts``.
"""

from collections.abc import Mapping

from ingest.schema import engine_tables, office_tables, sheet_tables, shop_tables
from ingest.schema.declared import PARTS, SOURCE, Column, Kind, Table

__all__ = ["PARTS", "SOURCE", "TABLES", "Column", "Kind", "Table"]

TABLES: Mapping[str, Table] = {
    table.name: table
    for table in (
        engine_tables.VEHICLES,
        engine_tables.WEAR_POINTS,
        engine_tables.POSITION_ALIASES,
        engine_tables.GAUGES,
        engine_tables.FACTS,
        shop_tables.PARTS_WITH_NUMBERS,
        shop_tables.OPENINGS,
        shop_tables.FITTINGS,
        engine_tables.MILEAGE,
        engine_tables.EVENTS,
        office_tables.USAGE,
        shop_tables.WORK,
        shop_tables.READINGS,
        shop_tables.FINDINGS,
        shop_tables.PICTURES,
        shop_tables.DEFECTS,
        shop_tables.SCOPE_LINES,
        office_tables.COSTS,
        office_tables.FUNDS,
        office_tables.TRIPS,
        office_tables.CAPACITIES,
        office_tables.LEAD_TIMES,
        sheet_tables.ANSWERS,
        sheet_tables.LAYOUTS,
    )
}
"""All tables in the order in which rows are taken in: what others refer to comes first."""
