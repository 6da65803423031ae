"""The countries of the demo: how many stations, which id codes, call sign beginnings and flavour of names.

Receives nothing; hands on `COUNTRIES`. Weights are invented. Codes (E.212; 263, 264, 317 by amateur
practice) and call sign beginnings (ITU RR Appendix 42) are from memory; tests hold them to published tables.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from string import ascii_uppercase
from typing import Final


@dataclass(frozen=True, slots=True)
class Country:
    """One country of the demo. `weight` is its stations in a full directory; `beginnings` end in a digit."""

    code: str
    name: str
    weight: int
    id_codes: tuple[int, ...]
    beginnings: tuple[str, ...]
    flavour: str


def _spread(pattern: str) -> list[str]:
    """`OE#` as OE0 to OE9, `D[A-R]#` as DA0 to DR9."""
    if "[" in pattern:
        before, rest = pattern.split("[")
        span, after = rest.split("]")
        letters = ascii_uppercase[ascii_uppercase.index(span[0]) : ascii_uppercase.index(span[-1]) + 1]
        return [text for letter in letters for text in _spread(before + letter + after)]
    if pattern.endswith("#"):
        return [stem + digit for stem, digit in product([pattern[:-1]], "0123456789")]
    return [pattern]


# code | name | weight | id codes | call sign beginnings (# any digit) | flavour
_TABLE: Final = """
US|United States|79000|310 311 312 313 314 315 316 317|K# N# W# A[A-G]# AI# K[A-G]# K[I-K]# W[A-G]#|english
DE|Germany|27500|262 263 264|D[A-R]#|german
GB|United Kingdom|18500|234 235|G# M# 2E# GM#|english
JP|Japan|16500|440 441|J[A-S]#|eastern
CN|China|13500|460 461|B[A-L]#|eastern
IN|India|8000|404 405 406|V[T-W]#|southern
ES|Spain|9700|214|E[A-H]#|iberian
IT|Italy|9700|222|I# I[K-Z]#|romance
FR|France|9600|208|F#|romance
BR|Brazil|9700|724|P[P-Y]#|iberian
TH|Thailand|9200|520|E2# HS#|eastern
CA|Canada|9500|302|V[A-G]#|english
ID|Indonesia|7800|510|Y[B-H]#|eastern
KR|Korea, Republic of|6000|450|HL# D[S-T]#|eastern
AU|Australia|8400|505|VK#|english
NL|Netherlands|8200|204|P[A-I]#|german
PL|Poland|7600|260|S[N-R]#|slavic
RU|Russian Federation|6800|250|R# U[A-I]#|slavic
AT|Austria|6400|232|OE1 OE2 OE3 OE4 OE5 OE6 OE7 OE8 OE9|german
CH|Switzerland|4600|228|HB9|german
PT|Portugal|4200|268|C[Q-U]#|iberian
BE|Belgium|4600|206|O[N-T]#|romance
AR|Argentina|4700|722|L[O-W]#|iberian
MX|Mexico|4100|334|X[A-I]#|iberian
CZ|Czechia|3300|230|O[K-L]#|slavic
GR|Greece|3100|202|S[V-Z]#|romance
SE|Sweden|3500|240|S[A-M]#|nordic
UA|Ukraine|3100|255|U[R-Z]#|slavic
TW|Taiwan|3000|466|B[M-Q]# B[U-X]#|eastern
PH|Philippines|3200|515|D[U-Z]#|iberian
MY|Malaysia|2800|502|9M#|eastern
CL|Chile|2600|730|C[A-E]#|iberian
DK|Denmark|2400|238|O[U-V]# OZ#|nordic
NO|Norway|2200|242|L[A-N]#|nordic
FI|Finland|2000|244|O[F-I]1 O[F-I]2 O[F-I]3 O[F-I]5 O[F-I]7|nordic
HU|Hungary|2300|216|HA# HG#|slavic
RO|Romania|2200|226|Y[O-R]#|romance
IE|Ireland|1900|272|E[I-J]#|english
NZ|New Zealand|1800|530|Z[L-M]#|english
ZA|South Africa|2300|655|Z[R-U]#|english
VE|Venezuela, Bolivarian Republic of|1900|734|Y[V-Y]#|iberian
CO|Colombia|2000|732|H[J-K]#|iberian
SI|Slovenia|1300|293|S5#|slavic
HR|Croatia|1300|219|9A#|slavic
RS|Serbia|1100|220|Y[T-U]#|slavic
SK|Slovakia|1200|231|OM#|slavic
BG|Bulgaria|1300|284|LZ#|slavic
TR|Türkiye|1600|286|T[A-C]#|southern
UY|Uruguay|900|748|C[V-X]#|iberian
PR|Puerto Rico|1500|330|KP4 NP4 WP4|iberian
CR|Costa Rica|900|712|TI#|iberian
PE|Peru|800|716|O[A-C]#|iberian
EC|Ecuador|900|740|H[C-D]#|iberian
PY|Paraguay|500|744|ZP#|iberian
PA|Panama|500|714|H[O-P]#|iberian
GT|Guatemala|500|704|TG#|iberian
LT|Lithuania|500|246|LY#|slavic
LV|Latvia|400|247|YL#|slavic
EE|Estonia|400|248|ES#|nordic
LU|Luxembourg|450|270|LX#|german
LI|Liechtenstein|120|295|HB0|german
IS|Iceland|150|274|TF#|nordic
CY|Cyprus|300|280|5B#|romance
MT|Malta|250|278|9H#|romance
SM|San Marino|90|292|T7#|romance
MC|Monaco|80|212|3A#|romance
AD|Andorra|100|213|C3#|iberian
BA|Bosnia and Herzegovina|600|218|E7#|slavic
ME|Montenegro|200|297|4O#|slavic
MK|North Macedonia|400|294|Z3#|slavic
IL|Israel|900|425|4X# 4Z#|southern
AE|United Arab Emirates|500|424|A6#|southern
KW|Kuwait|700|419|9K#|southern
QA|Qatar|300|427|A7#|southern
OM|Oman|350|422|A4#|southern
MA|Morocco|300|604|CN#|southern
KE|Kenya|150|639|5[Y-Z]#|southern
SG|Singapore|500|525|9V#|eastern
VN|Viet Nam|500|452|XV# 3W#|eastern
KZ|Kazakhstan|500|401|U[N-Q]#|slavic
GE|Georgia|150|282|4L#|southern
"""


def _country(line: str) -> Country:
    code, name, weight, id_codes, patterns, flavour = line.split("|")
    beginnings = tuple(text for pattern in patterns.split() for text in _spread(pattern))
    return Country(code, name, int(weight), tuple(map(int, id_codes.split())), beginnings, flavour)


COUNTRIES: Final = tuple(_country(line) for line in _TABLE.split("\n") if line)
POSITION: Final = {country.code: position for position, country in enumerate(COUNTRIES)}

#: Other ways in which people write a country.
OTHER_WAYS: Final[dict[str, tuple[str, ...]]] = {
    "AT": ("Österreich", "AUT", "austria", "Oesterreich"),
    "DE": ("Deutschland", "DEU", "GERMANY", "Federal Republic of Germany"),
    "US": ("USA", "U.S.A.", "United States of America", "usa"),
    "GB": ("England", "UK", "Great Britain", "Scotland"),
    "NL": ("Holland", "The Netherlands", "Nederland", "NLD"),
    "BR": ("Brasil", "BRA", "brazil", "BRASIL"),
    "CH": ("Schweiz", "Suisse", "CHE", "switzerland"),
    "IT": ("Italia", "ITA", "italy", "ITALIA"),
    "ES": ("España", "ESP", "spain", "Espana"),
    "CZ": ("Czech Republic", "CZE", "czechia", "Česko"),
}

#: What stands in the country cell of people who would not say.
NO_COUNTRY: Final = ("Planet Earth", "N/A", "-", "unknown")
