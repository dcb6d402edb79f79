"""A chance as people read it: so many times in so many, which is grasped better than a percentage.

Frequencies: G. Gigerenzer & U. Hoffrage, Psychological Review 102 (1995) 684. Texts round to tens,
twentieths or hundredths, as the chance is near the ends; where chances are compared, hundredths throughout.
"""

_FEWEST, _MOST = 0.005, 0.995


def times_in(chance: float) -> str:
    """A chance by itself: 8 times in 10, 1 time in 20."""
    if 0.075 <= chance <= 0.925:
        return _times(round(chance * 10), 10)
    if 0.045 <= chance <= 0.955:
        return _times(round(chance * 20), 20)
    return times_in_100(chance)


def times_in_100(chance: float) -> str:
    """A chance beside another one: 47 times in 100."""
    if chance <= _FEWEST:
        return "fewer than 1 time in 100"
    if chance >= _MOST:
        return "more than 99 times in 100"
    return _times(round(chance * 100), 100)


def of_100(chance: float) -> str:
    """The same under a heading that says *times in 100*."""
    if chance <= _FEWEST:
        return "< 1"
    return "> 99" if chance >= _MOST else f"{chance * 100:.0f}"


def _times(count: int, of: int) -> str:
    return f"{count} {'time' if count == 1 else 'times'} in {of}"
