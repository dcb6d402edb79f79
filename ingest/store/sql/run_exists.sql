-- Whether there is a run of that id and kind.
SELECT run_id FROM run WHERE run_id = $run_id AND kind = $kind
