"""Which engine runs which train: days of the season given out so that parts reach their windows together."""
