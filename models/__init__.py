"""Pure computation: frames and arrays in, frames and arrays out. No database, no files, no clock."""
