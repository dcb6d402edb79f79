"""Positions, wheel arrangements, the railway's own words: which wear point is meant."""
