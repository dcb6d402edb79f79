"""Sheets of another make: described once in TOML, proposed from a sheet, applied to it."""
