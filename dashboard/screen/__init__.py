"""The session: who, which forecast, address, cached reading, elements of a page."""
