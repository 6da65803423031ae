"""Mobile country codes (ITU-T E.212) -> countries.

Receives nothing, hands on one array that is indexed by the three digits with which an id begins.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from pruner.reference.countries import NUMBERS
from pruner.reference.tables import rows


@cache
def country_of_code() -> npt.NDArray[np.uint8]:
    """Country number per code: uint8[1000], read-only.

    0 for codes that are free, shared by several countries (340, 362, 647) or international. Amateur ids also
    use codes that E.212 does not assign (263, 264, 317, 535); these are in the table too.
    """
    table = np.zeros(1000, dtype=np.uint8)
    for code, country in rows("mobile_codes.tsv"):
        table[int(code)] = NUMBERS[country]
    table.flags.writeable = False
    return table


def country_of_talkgroup(number: int) -> int:
    """The country of a talkgroup whose number begins with a country code (3 to 7 digits), else 0.

    Common practice, no source: 232 and 2328 are Austrian, 91 and 8 are nobody's.
    """
    return int(country_of_code()[int(str(number)[:3])]) if 100 <= number <= 9_999_999 else 0


def country_of_talkgroups(number: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint8]:
    """Country by the first three digits of group numbers with 3 to 7 digits; 0 elsewhere, as for world-wide groups.

    A talkgroup often begins with a country code (common practice, no source; the codes are those of ITU-T E.212).
    """
    code = number.astype(np.int64)
    code[(code < 100) | (code > 9_999_999)] = 0
    for power in (10_000, 1_000, 100, 10):
        code = np.where(code >= 100 * power, code // power, code)
    return country_of_code()[code]
