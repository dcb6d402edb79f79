-- Rows of the frame `incoming` (base units) into a table; row_id is given by the sequence.
INSERT INTO {table} BY NAME SELECT * FROM incoming
