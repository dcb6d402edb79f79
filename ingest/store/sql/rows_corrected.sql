-- Grain: one row that held once and was corrected, replaced or withdrawn since; not those that an undo took back. In no order.
WITH decided AS (SELECT batch FROM batch WHERE command <> 'undo')
SELECT 'readings' AS table_name, point, date, value, odometer_read, gauge, observer
FROM readings WHERE retracted_in IN (SELECT batch FROM decided)
UNION ALL BY NAME
SELECT 'work' AS table_name, point, date, action, value_before, value_after
FROM work WHERE retracted_in IN (SELECT batch FROM decided)
UNION ALL BY NAME
SELECT 'mileage' AS table_name, vehicle, date, odometer_read, service_days, distance, event
FROM mileage WHERE retracted_in IN (SELECT batch FROM decided)
