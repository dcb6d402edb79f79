-- Rows of the frame `incoming` are kept back, each under a number of its own.
INSERT INTO held BY NAME SELECT nextval('held_ids') AS held_id, * FROM incoming
