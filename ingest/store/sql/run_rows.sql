-- Grain: one row of a frame of run $run_id, as it was given.
SELECT * EXCLUDE (run_of_row) FROM {table} WHERE run_of_row = $run_id
