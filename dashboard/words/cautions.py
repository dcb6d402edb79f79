"""What stands under every forecast and every plan."""

CAUTION = (
    "{} supports and never replaces inspection by qualified people; the governing rules and the railway's "
    "own limits decide."
)
FORECAST_CAUTION = CAUTION.format("A forecast")
CHECKS_CAUTION = (
    "Checks support and never replace inspection by qualified people; the governing rules and the railway's "
    "own limits decide."
)
LIMITS_CAUTION = (
    "Limits from a catalogue support and never replace inspection by qualified people; the governing rules "
    "and the railway's own limits decide."
)
LOOK_UP = "Look a figure up in its text before use."
PLAN_CAUTION = f"{CAUTION.format('A plan')} What is past its limit does not run until it is put right."
INVENTED = "The railway is invented: no engine, price, gift or person here is real."
"""Stands on papers made from the demo."""
