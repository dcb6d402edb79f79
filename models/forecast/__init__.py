"""Forecasts every wear point: tables in, the frames of a run out, with flags and what was learned."""
