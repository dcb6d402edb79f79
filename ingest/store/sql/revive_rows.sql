-- Rows that batch $undone had retracted hold again: they come back as rows of batch $batch, their origin as it was.
INSERT INTO {table} BY NAME
SELECT * EXCLUDE (retracted_in) REPLACE (
    $batch AS batch,
    (SELECT max(row_id) FROM {table}) + row_number() OVER (ORDER BY row_id) AS row_id
)
FROM {table} WHERE retracted_in = $undone
