"""The calendar: miles expected in each month ahead, seasons, lay-ups, inspections that fall due."""
