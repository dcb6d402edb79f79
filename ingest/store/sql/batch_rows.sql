-- Grain: one batch that brought rows of {table} or took some back: how many it brought, how many of these still
-- hold (those that came back after an undo of what had replaced them included), how many it took back.
SELECT batch, sum(brought)::BIGINT AS brought, sum(hold)::BIGINT AS hold, sum(taken)::BIGINT AS taken FROM (
    SELECT brought_by AS batch, count(*) FILTER (batch = brought_by) AS brought,
           count(*) FILTER (retracted_in IS NULL) AS hold, 0 AS taken
    FROM {table} GROUP BY brought_by
    UNION ALL
    SELECT retracted_in, 0, 0, count(*) FROM {table} WHERE retracted_in IS NOT NULL GROUP BY retracted_in
) GROUP BY batch
