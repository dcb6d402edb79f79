-- How many wear points there are at version $version.
SELECT count(*) FROM wear_points
WHERE batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
