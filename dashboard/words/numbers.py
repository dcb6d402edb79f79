"""Numbers, money, dates and chances as the reader writes them."""

from dataclasses import dataclass

import pandas as pd
from babel import Locale, UnknownLocaleError
from babel.numbers import format_currency, format_decimal, format_percent, is_currency

from ingest.errors import WrongUsage
from models.case.money import rounding_step


@dataclass(frozen=True)
class Numbers:
    """How numbers are written: ``locale`` as babel knows it, ``currency`` by its ISO 4217 code."""

    locale: str
    currency: str

    def whole(self, value: float) -> str:
        """A whole number, thousands set apart."""
        return format_decimal(round(value), locale=self.locale)

    def miles(self, value: float) -> str:
        """Miles rounded to what they can be trusted to: two figures, hundreds at the finest beyond 1,000."""
        return self.whole(round_miles(value))

    def money(self, value: float, step: int = 1) -> str:
        """Money to the nearest step, without the small coins."""
        return self._currency(round(value / step) * step, 0)

    def small_money(self, value: float) -> str:
        """Money of the size of a mile's cost, with the small coins; three figures where it is more."""
        if abs(value) < 10:
            return self._currency(value, 2)
        return self.money(value, rounding_step(value))

    def percent(self, value: float) -> str:
        """A share in percent, one decimal at most."""
        return str(format_percent(value, format="#,##0.#%", locale=self.locale))

    def _currency(self, value: float, digits: int) -> str:
        pattern = Locale.parse(self.locale, sep="_").currency_formats["standard"].pattern
        pattern = pattern.replace(".00", "." + "0" * digits if digits else "")
        return format_currency(
            value, self.currency, format=pattern, locale=self.locale, currency_digits=False
        )


def numbers(locale: str, currency: str) -> Numbers:
    """Check a language of numbers and a currency; WrongUsage if either is not known."""
    wanted = locale.replace("-", "_")
    try:
        Locale.parse(wanted)
    except (UnknownLocaleError, ValueError):
        raise WrongUsage(
            f"--numbers: {locale!r} is no language that numbers are known for. "
            "Give a code such as en, en_GB, de, fr or cs."
        ) from None
    code = currency.upper()
    if not is_currency(code):
        raise WrongUsage(
            f"--currency: {currency!r} is no currency. Give its three letters, such as USD, EUR or GBP."
        )
    return Numbers(wanted, code)


def round_miles(value: float) -> int:
    """Miles to two figures, to hundreds at the finest beyond 1,000, to tens beyond 100."""
    size = abs(value)
    step = 1 if size < 100 else 10 if size < 1000 else 100 if size < 20_000 else 1000
    return round(value / step) * step


def month_words(day: pd.Timestamp) -> str:
    """November 2027."""
    return f"{day:%B} {day.year}"


def month_short(day: pd.Timestamp) -> str:
    """Nov 2027."""
    return f"{day:%b} {day.year}"


def day_words(day: pd.Timestamp) -> str:
    """3 November 2027."""
    return f"{day.day} {day:%B} {day.year}"
