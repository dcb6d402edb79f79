-- Grain: one row of a table, as it was at version $version, that a batch after $since brought, of a wear point of the
-- frame `wanted`. Ordered by key.
SELECT * EXCLUDE (retracted_in, brought_by)
FROM {table}
WHERE batch > $since AND batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
  AND point IN (SELECT point FROM wanted)
ORDER BY {key}, row_id
