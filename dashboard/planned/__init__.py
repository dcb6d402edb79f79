"""The sections of the page of a plan: what changed, what to measure first, one line and its wear."""
