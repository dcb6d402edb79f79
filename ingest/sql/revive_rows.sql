-- Rows that batch $undone had retracted hold again: they come back as new rows of batch $batch.
INSERT INTO {table} BY NAME
SELECT * EXCLUDE (row_id) REPLACE ($batch AS batch, NULL AS retracted_in)
FROM {table} WHERE retracted_in = $undone
