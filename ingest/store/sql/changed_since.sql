-- Grain: one later batch that retracted rows which batch $undone brought.
SELECT DISTINCT retracted_in AS batch FROM {table}
WHERE brought_by = $undone AND retracted_in IS NOT NULL ORDER BY 1
