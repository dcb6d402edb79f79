-- Rows named in `incoming` (row_id) no longer hold from batch $batch on; they stay readable at older versions.
UPDATE {table} SET retracted_in = $batch
WHERE retracted_in IS NULL AND row_id IN (SELECT row_id FROM incoming)
