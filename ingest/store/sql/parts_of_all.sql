-- Rows of a table that every run needs whole, at version $version, up to the day $until (NULL: all), in the folder of
-- each run.
COPY (
    SELECT {columns}, run FROM {table} CROSS JOIN (SELECT DISTINCT run FROM runs)
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
      AND ($until::TIMESTAMP IS NULL OR {day} IS NULL OR {day} <= $until::TIMESTAMP)
) TO $folder (FORMAT parquet, PARTITION_BY (run), OVERWRITE_OR_IGNORE)
