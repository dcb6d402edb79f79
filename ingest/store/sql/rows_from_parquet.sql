-- All rows of one Parquet file into a table.
INSERT INTO {table} BY NAME SELECT * FROM read_parquet($file)
