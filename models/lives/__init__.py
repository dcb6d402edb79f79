"""From tables to lives: one scale of wear, renewals, cuts, renewals missing from the record."""
