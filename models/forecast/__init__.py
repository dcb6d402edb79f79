"""From tables to the frames of a forecast run: flags, paths, explanation, recalibration."""
