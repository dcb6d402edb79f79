SELECT table_name FROM duckdb_tables() WHERE table_name = $table
