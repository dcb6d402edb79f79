-- Grain: one command that changed something, newest first.
SELECT batch, made_at, who, command, about FROM batch ORDER BY batch DESC
