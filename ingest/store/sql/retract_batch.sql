-- All rows that batch $undone brought, and that still hold, no longer hold from batch $batch on.
UPDATE {table} SET retracted_in = $batch WHERE {origin} = $undone AND retracted_in IS NULL
