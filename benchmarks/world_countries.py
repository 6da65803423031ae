"""The countries of invented worlds: their share of all stations, the codes of their ids, the beginnings of their call signs.

Shares are invented. Codes (E.212; 263 and 264, 311 to 317 by amateur practice) and call sign series (ITU RR Appendix 42) are
from memory; tests hold them to the tables of the published lists.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

# code | weight | id codes | call sign beginnings
_TABLE: Final = """
US|700|310 311 312 313 314 315 316 317|K N W AA KC
DE|280|262 263 264|DL DK DO DB
GB|180|234 235|G M GW
JP|170|440 441|JA JH JR
CN|140|460 461|BA BG BH
IN|90|404 405|VU
ES|96|214|EA EB
IT|96|222|I IK IZ
FR|96|208|F
BR|96|724|PY PU
TH|92|520|HS E2
CA|95|302|VE VA
ID|78|510|YB YC
KR|62|450|HL DS
AU|84|505|VK
NL|82|204|PA PD
PL|76|260|SP SQ
RU|70|250|R RA UA
AT|64|232|OE
CH|46|228|HB
PT|44|268|CT
BE|47|206|ON
AR|48|722|LU
MX|42|334|XE
CZ|34|230|OK
GR|32|202|SV
SE|36|240|SM SA
UA|32|255|UR UT
TW|30|466|BV BX
CL|26|730|CE
DK|24|238|OZ
NO|22|242|LA
HU|23|216|HA
RO|22|226|YO
NZ|18|530|ZL
ZA|24|655|ZS
SI|13|293|S5
HR|13|219|9A
SK|12|231|OM
"""


@dataclass(frozen=True, slots=True)
class Country:
    """One country: share of all stations (`weight`), codes that begin its ids, beginnings of its call signs."""

    code: str
    weight: int
    id_codes: tuple[int, ...]
    beginnings: tuple[str, ...]


def _countries() -> tuple[Country, ...]:
    found = []
    for line in _TABLE.strip().splitlines():
        code, weight, id_codes, beginnings = line.split("|")
        found.append(Country(code, int(weight), tuple(map(int, id_codes.split())), tuple(beginnings.split())))
    return tuple(found)


COUNTRIES: Final = _countries()
#: The first code of the ids of each, which is also its national talkgroup.
NATIONAL: Final = np.array([one.id_codes[0] for one in COUNTRIES], dtype=np.int64)
