-- Grain: one column of a table of the store, in order.
SELECT table_name, column_name, data_type FROM duckdb_columns()
WHERE NOT internal AND schema_name = 'main' ORDER BY table_name, column_index
