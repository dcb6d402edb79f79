"""The fundraising case: cost, delay, cost of a mile, fund, schedule, contingency."""
