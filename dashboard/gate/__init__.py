"""The gate before the pages: whose page asks, who is there, what that person may do."""
