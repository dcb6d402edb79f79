INSERT INTO {table} SELECT $run_id, * FROM incoming
