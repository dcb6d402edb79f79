-- Rows go to disk early: what is written is larger than the memory that should be held.
SET memory_limit = '1GB'
