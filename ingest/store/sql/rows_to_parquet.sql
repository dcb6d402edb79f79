-- All rows of a table into one Parquet file.
COPY (SELECT * FROM {table}) TO $file (FORMAT parquet, COMPRESSION zstd)
