-- Grain: one thing that a database has beside its rows: schema, table, view, index, sequence, type,
-- function, trigger.
-- A table with the statement that makes it, and so its columns, kinds, defaults and constraints. What a database
-- calls its own (internal) is listed too: it says so itself.
SELECT 'schema' AS kind, schema_name AS name, '' AS made_by FROM duckdb_schemas() WHERE database_name = $database
UNION ALL
SELECT 'table', schema_name || '.' || table_name, sql FROM duckdb_tables() WHERE database_name = $database
UNION ALL
SELECT 'view', schema_name || '.' || view_name, sql FROM duckdb_views() WHERE database_name = $database
UNION ALL
SELECT 'index', schema_name || '.' || index_name, sql FROM duckdb_indexes() WHERE database_name = $database
UNION ALL
SELECT 'sequence', schema_name || '.' || sequence_name, sql FROM duckdb_sequences() WHERE database_name = $database
UNION ALL
SELECT 'type', schema_name || '.' || type_name, logical_type FROM duckdb_types() WHERE database_name = $database
UNION ALL
SELECT 'function', schema_name || '.' || function_name, coalesce(macro_definition, '') FROM duckdb_functions()
WHERE database_name = $database
UNION ALL
SELECT 'trigger', schema_name || '.' || trigger_name, sql FROM duckdb_triggers() WHERE database_name = $database
