"""Simulated futures of a vehicle that plan and case share; hidden work."""
