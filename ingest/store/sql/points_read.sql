-- Grain: one wear point of which a batch after $since, up to version $version, brought a reading that holds then.
SELECT DISTINCT point FROM readings
WHERE batch > $since AND batch <= $version AND (retracted_in IS NULL OR retracted_in > $version)
ORDER BY point
