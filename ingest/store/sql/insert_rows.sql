-- Rows of the frame `incoming` (base units) into a table.
INSERT INTO {table} BY NAME SELECT * FROM incoming
