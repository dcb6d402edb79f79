"""Readings at the engine: a page of its own that works without a connection, and what it asks the server."""
