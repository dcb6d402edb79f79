-- Highest number given so far; 0 if none was.
SELECT coalesce(max({column}), 0) FROM {table}
