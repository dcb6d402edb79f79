-- Grain: one wear point at version $version, with what tells its family and its rules. Ordered by point.
SELECT point, vehicle, component, position, quantity, base_unit, limit_source
FROM wear_points
WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
ORDER BY point, row_id
