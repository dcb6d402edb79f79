-- Grain: one later batch that settled rows which batch $undone held back.
SELECT DISTINCT s.batch FROM settled s JOIN held h USING (held_id)
WHERE h.batch = $undone AND s.batch <> $undone AND s.retracted_in IS NULL ORDER BY 1
