-- Grain: one entry that ever came in under one of the numbers in wanted, stored or held back.
SELECT client_id, point, {column} AS said FROM {table}
WHERE client_id IN (SELECT client_id FROM wanted)
UNION
SELECT raw ->> 'client_id', coalesce(raw ->> 'point', ''), coalesce(raw ->> '{cell}', '') FROM held
WHERE table_name = '{table}' AND raw ->> 'client_id' IN (SELECT client_id FROM wanted)
ORDER BY ALL
