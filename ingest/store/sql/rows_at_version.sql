-- Grain: one row of a table of the contract, as it was at version $version. Base units. Ordered by key.
SELECT * EXCLUDE (retracted_in, brought_by)
FROM {table}
WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
ORDER BY {key}, row_id
