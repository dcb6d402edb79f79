"""The demo railway: invented data with known truth."""
