"""Words of a plan that its text, its files and its pages share."""

DEPTH_WORDS = {"in_place": "in place", "rods_down": "rods down", "wheels_out": "wheels out"}
"""How deep a window opens the engine, from the least to the most."""
