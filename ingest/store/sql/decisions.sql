-- Grain: one decision about runs of a kind, of one name where it is given; the newest first.
SELECT decision_id, kind, name, state, run_id, who, made_at, note FROM decision
WHERE kind = $kind AND ($name IS NULL OR name = $name) ORDER BY decision_id DESC
