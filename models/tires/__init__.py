"""Turnings until a tire is scrap."""
