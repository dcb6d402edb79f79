"""The judges of a sheet, in the order in which they look at it."""

from ingest.look.before_after import judge_before_after
from ingest.look.copies import judge_copies, judge_several
from ingest.look.day_order import judge_day_order
from ingest.look.decimal_mark import judge_decimal_mark, judge_unclear_thousands
from ingest.look.distance_unit import judge_distance_unit
from ingest.look.later_copies import judge_later_copies
from ingest.look.looking import Judge
from ingest.look.naming import judge_naming, judge_sheet_name
from ingest.look.no_entries import judge_legend, judge_marks, judge_no_value, judge_not_measured, judge_sums
from ingest.look.odometer_drops import judge_odometer_drops
from ingest.look.steps import judge_steps
from ingest.look.turned_dates import judge_days_above, judge_turned_dates
from ingest.look.unit import judge_parts_of_mm, judge_unit
from ingest.look.wheel_ids import judge_counted_wheels, judge_groups_of_wheels, judge_sides_of_ids

CELL_JUDGES: tuple[Judge, ...] = (
    judge_marks,
    judge_no_value,
    judge_not_measured,
    judge_legend,
    judge_sums,
    judge_days_above,
    judge_turned_dates,
    judge_day_order,
    judge_decimal_mark,
    judge_sheet_name,
    judge_naming,
    judge_sides_of_ids,
    judge_groups_of_wheels,
    judge_counted_wheels,
)
"""They see the cells as text, of all rows of the sheet: what a column says as a whole."""

NUMBER_JUDGES: tuple[Judge, ...] = (judge_unclear_thousands,)
"""They see rows that are read and new: which number a cell is, held against what its wear point can be."""

ROW_JUDGES: tuple[Judge, ...] = (judge_unit, judge_parts_of_mm, judge_distance_unit)
"""They see rows that are read and new: what a column says, held against what its values can be."""

STAGE_JUDGES: tuple[Judge, ...] = (judge_before_after,)
"""They see rows whose numbers nobody doubts: whether two columns are before and after work."""

PLACE_JUDGES: tuple[Judge, ...] = (judge_several,)
"""They see rows whose numbers nobody doubts: which of several readings of one place counts."""

HISTORY_JUDGES: tuple[Judge, ...] = (judge_odometer_drops, judge_copies, judge_later_copies, judge_steps)
"""They see rows about whose reading nobody doubts, each beside the history of its wear point."""
