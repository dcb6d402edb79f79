-- Grain: a vehicle and a day: that of its last reading at version $version up to the day $until (NULL: all), and each
-- day after the end of its log on which a reading notes an odometer, with the furthest noted (NULL where none is). A
-- run holds some of a vehicle's wear points only, and must know how far the others were read. `runs`: point, vehicle,
-- run.
COPY (
    WITH read AS (
        SELECT p.vehicle, r.date, max(r.odometer_read) AS odometer_read
        FROM readings r
        JOIN (
            SELECT point, any_value(vehicle) AS vehicle FROM wear_points
            WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
            GROUP BY point
        ) p USING (point)
        WHERE r.batch <= $version AND (r.retracted_in IS NULL OR r.retracted_in > $version)
          AND ($until::TIMESTAMP IS NULL OR r.date <= $until::TIMESTAMP)
        GROUP BY p.vehicle, r.date
    ),
    log AS (
        SELECT vehicle, max(date) AS last FROM mileage
        WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
          AND ($until::TIMESTAMP IS NULL OR date <= $until::TIMESTAMP)
        GROUP BY vehicle
    )
    SELECT read.vehicle, read.date, read.odometer_read, run
    FROM read
    JOIN (SELECT DISTINCT vehicle, run FROM runs) USING (vehicle)
    LEFT JOIN log USING (vehicle)
    WHERE (read.odometer_read IS NOT NULL AND (log.last IS NULL OR read.date > log.last))
       OR read.date = (SELECT max(date) FROM read others WHERE others.vehicle = read.vehicle)
) TO $folder (FORMAT parquet, PARTITION_BY (run), OVERWRITE_OR_IGNORE)
