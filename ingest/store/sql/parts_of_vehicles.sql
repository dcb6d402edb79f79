-- Rows of a table of vehicles at version $version, in the folder of each run that has a wear point of the vehicle.
COPY (
    SELECT {columns}, run FROM {table} JOIN (SELECT DISTINCT vehicle, run FROM runs) USING (vehicle)
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
) TO $folder (FORMAT parquet, PARTITION_BY (run), OVERWRITE_OR_IGNORE)
