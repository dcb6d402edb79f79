"""Words of a plan that its text, its files and its pages share."""

DEPTH_WORDS = {"in_place": "in place", "rods_down": "rods down", "wheels_out": "wheels out"}
"""How deep a window opens the engine, from the least to the most."""

KIND_WORDS = {
    "late": "must",
    "limit": "must",
    "inspection": "must, inspection",
    "asked": "asked for",
    "with_others": "while it is open",
}
"""Why a line is in the scope, in a word, by ``models.plan.reasons.KINDS``: what presses most comes first."""
