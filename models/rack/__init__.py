"""The spares rack and the plan: where each spare may be fitted, and where it is worth fitting."""
