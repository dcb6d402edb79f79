-- Grain: one batch that held rows back or settled some: how many of each.
SELECT batch, sum(held)::BIGINT AS held, sum(settled)::BIGINT AS settled FROM (
    SELECT batch, count(*) AS held, 0 AS settled FROM held GROUP BY batch
    UNION ALL
    SELECT batch, 0, count(*) FROM settled GROUP BY batch
) GROUP BY batch
