"""Sheets on their way into the store: looked at, pointed at, asked about, stored; many rows put right."""
