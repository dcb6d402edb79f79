"""Forecasters together: what each says, pooled with weights that the past of the store has taught."""
