-- Grain: one row. Whether the record goes on after the day $until at version $version, and the first later month
-- with planned running (NULL without one).
SELECT
    EXISTS (
        SELECT 1 FROM mileage
        WHERE date > $until AND batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
    ) OR EXISTS (
        SELECT 1 FROM readings
        WHERE date > $until AND batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
    ) AS goes_on,
    (
        SELECT min(month) FROM usage
        WHERE month > $until AND batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
    ) AS plan_begins
