"""Wheel arrangements written in UIC notation, so that tests can read back what the product reads."""

_WHYTE_ONLY = ("ng", "ca")  # narrow gage, compressed air


def format_uic(arrangement):
    """The arrangement in UIC notation; a Whyte suffix becomes t for a tank engine."""
    suffix = arrangement.suffix
    if suffix in _WHYTE_ONLY or not suffix[:1].islower():
        suffix = "t" if arrangement.is_tank else ""
    return "+".join("".join(map(_frame, unit.frames)) for unit in arrangement.units) + suffix


def _frame(frame):
    inside = "".join(map(_group, frame.groups))
    return f"({inside}){chr(39) if frame.truck else ''}" if frame.hinged else inside


def _group(group):
    letter = "ABCDEFGHIJKL"[group.count - 1] + ("o" if group.single else "")
    return (letter if group.driven else str(group.count)) + ("'" if group.truck else "")
