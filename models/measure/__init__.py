"""What to measure first: readings still to be taken, by what they save per minute of measuring."""
