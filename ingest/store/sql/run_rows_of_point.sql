-- Grain: one row of a frame of run $run_id that speaks of wear point $point.
SELECT * EXCLUDE (run_of_row) FROM {table} WHERE run_of_row = $run_id AND point = $point
