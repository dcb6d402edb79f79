CREATE TABLE {table} AS SELECT * FROM incoming
