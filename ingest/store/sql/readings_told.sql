-- Grain: one reading at version $version that names its part, or says that it is as found or as left. Unordered.
SELECT row_id, point, date, part_no, found_or_left
FROM readings
WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
  AND (part_no <> '' OR found_or_left <> '')
