-- Readings at version $version that name their part, or say that they are as found or as left, up to the day $until
-- (NULL: all), a folder for each run. `runs`: point, vehicle, run.
COPY (
    SELECT row_id, point, date, part_no, found_or_left, run
    FROM readings JOIN (SELECT point, run FROM runs) USING (point)
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
      AND ($until::TIMESTAMP IS NULL OR date <= $until::TIMESTAMP)
      AND (part_no <> '' OR found_or_left <> '')
) TO $folder (FORMAT parquet, PARTITION_BY (run), OVERWRITE_OR_IGNORE)
