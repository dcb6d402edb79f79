-- Grain: one row of a frame of run $run_id that speaks of a wear point of the frame `wanted`.
SELECT * EXCLUDE (run_of_row) FROM {table}
WHERE run_of_row = $run_id AND point IN (SELECT point FROM wanted)
