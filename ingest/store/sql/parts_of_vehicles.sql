-- Rows of a table of vehicles at version $version, in the folder of each run that has a wear
-- point of the vehicle; of rows with a day those up to $until (NULL: all).
COPY (
    SELECT {columns}, run FROM {table} JOIN (SELECT DISTINCT vehicle, run FROM runs) USING (vehicle)
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
      AND ($until::TIMESTAMP IS NULL OR {day} IS NULL OR {day} <= $until::TIMESTAMP)
) TO $folder (FORMAT parquet, PARTITION_BY (run), OVERWRITE_OR_IGNORE)
