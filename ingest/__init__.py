"""Files of rows in, one trusted store out: readings, mileage, work. Knows no model."""
