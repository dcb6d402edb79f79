-- Grain: one reading at version $version that was typed with its gauge before anything was shown; only those of
-- days up to $until (NULL: all). changes: what had been done to its part by then, as a count that only grows;
-- on_day_of_work: whether more was done that day, before or after the reading.
WITH work_days AS (
    SELECT DISTINCT point, date FROM work
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
), moves AS (
    SELECT DISTINCT vehicle, since FROM fittings
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
), vehicle_of AS (
    SELECT point, any_value(vehicle) AS vehicle FROM wear_points
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
    GROUP BY point
)
SELECT r.row_id, r.point, r.date, r.value, r.odometer_read, trim(r.gauge) AS gauge, trim(r.observer) AS observer,
       r.found_or_left,
       (SELECT count(*) FROM work_days w WHERE w.point = r.point AND w.date < r.date)
       + (SELECT count(*) FROM moves m WHERE m.vehicle = v.vehicle AND m.since <= r.date) AS changes,
       EXISTS (SELECT 1 FROM work_days w WHERE w.point = r.point AND w.date = r.date) AS on_day_of_work
FROM readings r LEFT JOIN vehicle_of v USING (point)
WHERE r.batch <= $version AND (r.retracted_in IS NULL OR r.retracted_in > $version)
  AND r.client_id <> '' AND trim(r.gauge) <> ''
  AND ($until::TIMESTAMP IS NULL OR r.date <= $until::TIMESTAMP)
ORDER BY r.row_id
