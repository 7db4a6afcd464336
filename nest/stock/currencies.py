"""Currencies: codes, digits after the point, and rates of exchange by date.

References
----------
ISO 4217: codes in use by a country or region and their minor units, as the currency data of a Java runtime 25 list them
(read in November 2026); held against the codes of the package iso-codes by the tests.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Context, Decimal

_NONE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE = "BHD IQD JOD KWD LYD OMR TND"
_TWO = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF CNY COP CRC CUP CVE CZK
DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD
KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP
PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH
USD UYU UZS VES WST XCD XCG YER ZAR ZMW ZWG
"""
MINOR_DIGITS = {**dict.fromkeys(_NONE.split(), 0), **dict.fromkeys(_TWO.split(), 2), **dict.fromkeys(_THREE.split(), 3)}
"""Digits after the point of every code."""

_EXACT = Context(prec=60)
"""Room for any price times any rate that a job file may hold."""


@dataclass(frozen=True, slots=True)
class Rate:
    """One row of the table of rates: from `date` (ISO 8601) on, one unit of `currency` is `rate` of the job's own."""

    currency: str
    date: str
    rate: Decimal

    def converted(self, price: Decimal) -> Decimal:
        """A price in the job's own currency, exactly."""
        return _EXACT.multiply(price, self.rate)


def rate_of(rates: Iterable[Rate], currency: str, on: str = "") -> Rate | None:
    """The last rate of a currency up to the day `on`, or of all where no day is given; None if there is none."""
    mine = [rate for rate in rates if rate.currency == currency and (not on or rate.date <= on)]
    return max(mine, key=lambda rate: rate.date, default=None)
