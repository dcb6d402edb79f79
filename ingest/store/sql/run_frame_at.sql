-- Where a frame of a run is stored.
SELECT stored_in FROM run_frame WHERE run_id = $run_id AND name = $name
