-- Grain: one run of a kind, the one stored last first: a clock may have gone back between two of them.
SELECT run_id, kind, made_at, data_version, as_of, about FROM run
WHERE kind = $kind ORDER BY rowid DESC
