-- Rows of a table of wear points at version $version, a folder for each run; of rows with a day
-- those up to $until (NULL: all). `runs`: point, vehicle, run.
COPY (
    SELECT {columns}, run FROM {table} JOIN (SELECT point, run FROM runs) USING (point)
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
      AND ($until::TIMESTAMP IS NULL OR {day} IS NULL OR {day} <= $until::TIMESTAMP)
) TO $folder (FORMAT parquet, PARTITION_BY (run), OVERWRITE_OR_IGNORE)
