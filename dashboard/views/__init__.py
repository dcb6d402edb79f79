"""One script a page; each reads the address, then puts its sections together."""
