"""How far parts run from one renewal to the next, where nobody measured their wear."""
