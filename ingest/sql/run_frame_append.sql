INSERT INTO {table} SELECT * FROM incoming
