"""What stands under every forecast and every plan."""

CAUTION = (
    "{} supports and never replaces inspection by qualified people; the governing rules and the railway's "
    "own limits decide."
)
FORECAST_CAUTION = CAUTION.format("A forecast")
PLAN_CAUTION = f"{CAUTION.format('A plan')} What is past its limit does not run until it is put right."
