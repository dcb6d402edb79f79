-- The columns of a part of a table, without rows: what a run without any reads.
COPY (SELECT {columns} FROM {table} LIMIT 0) TO $file (FORMAT parquet)
