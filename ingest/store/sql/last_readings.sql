-- Grain: one reading of the last day on which a wear point of the frame `wanted` was read, at version $version.
SELECT point, date, value FROM readings
WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
  AND point IN (SELECT point FROM wanted)
QUALIFY date = max(date) OVER (PARTITION BY point)
ORDER BY point, row_id
