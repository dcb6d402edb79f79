-- Rows of a frame of a run from Parquet files, in the order of the files.
INSERT INTO {table} SELECT $run_id, * FROM read_parquet($files)
