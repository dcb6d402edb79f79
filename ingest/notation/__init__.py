"""One cell becomes a number, a date or a quantity in base units."""
