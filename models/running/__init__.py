"""Miles ahead in the calendar: usage, seasons, lay-ups, inspection clocks."""
