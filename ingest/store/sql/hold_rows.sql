-- Rows of the frame `incoming` are kept back.
INSERT INTO held BY NAME SELECT * FROM incoming
