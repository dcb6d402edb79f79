-- Where a frame of a run is stored, and the kind of the run.
SELECT stored_in, kind FROM run_frame JOIN run USING (run_id) WHERE run_id = $run_id AND name = $name
