-- Grain: one row of {table} that batch $batch brought, whether it still holds or not. In the order of its file.
SELECT * EXCLUDE (retracted_in, brought_by), retracted_in IS NULL AS holds
FROM {table} WHERE batch = $batch AND brought_by = $batch ORDER BY source_file, source_sheet, source_row, row_id
