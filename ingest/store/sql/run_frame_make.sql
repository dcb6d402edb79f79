CREATE TABLE {table} AS SELECT $run_id AS run_of_row, * FROM incoming
