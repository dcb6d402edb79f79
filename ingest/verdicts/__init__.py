"""Each row ends accepted, held back or already known; corrections, undo, measure again."""
