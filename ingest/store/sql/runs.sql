-- Grain: one run of a kind, newest first.
SELECT run_id, kind, made_at, data_version, as_of, about FROM run
WHERE kind = $kind ORDER BY made_at DESC, run_id DESC
