-- Grain: one reading at version $version, only what a forecast needs, with the vehicle of its wear point. Unordered.
SELECT r.row_id, r.point, r.date, r.value, r.odometer_read, r.gauge, r.found_or_left, coalesce(p.vehicle, '') AS vehicle
FROM readings r
LEFT JOIN (
    SELECT point, any_value(vehicle) AS vehicle FROM wear_points
    WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
    GROUP BY point
) p USING (point)
WHERE r.batch <= $version AND (r.retracted_in IS NULL OR r.retracted_in > $version)
