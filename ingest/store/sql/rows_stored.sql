-- Grain: one row of a table that holds now, as it is kept. In no order.
SELECT * EXCLUDE (retracted_in, batch, brought_by) FROM {table} WHERE retracted_in IS NULL
