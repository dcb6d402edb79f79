-- Grain: one row held back, with what became of it by version $version (outcome '' while it waits).
SELECT h.held_id, h.batch, h.table_name, h.source_file, h.source_sheet, h.source_row, h.raw, h.reasons,
       coalesce(s.outcome, '') AS outcome, coalesce(s.batch, 0) AS settled_in,
       coalesce(s.reason, '') AS settled_because, coalesce(s.mended, '') AS mended
FROM held h
LEFT JOIN (
    SELECT * FROM settled WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
) s USING (held_id)
WHERE h.batch <= $version AND (h.retracted_in IS NULL OR h.retracted_in > $version)
ORDER BY h.held_id
