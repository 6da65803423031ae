"""How much of what recent periods promise the best strangers keep, so that they and the heard are ranked on one scale.

Receives what the earlier periods promised of strangers for the latest one, and who came; hands on the share that was kept, and
calls to expect that are lowered by it. The order of strangers among themselves stays.

Those who are most like the newly heard, and yet were not heard, are the less likely to come the longer they were not; and of
many cells the highest ones are that high partly by chance. In ten kinds of invented worlds six to seven tenths came of what the
rates promised of those who rank among the heard. So what came of them in the latest period is divided by what was expected, as
in `calls.rates` (gamma-Poisson), with that usual share as the mean of the prior.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.stations import Floats

#: What is kept where no period tells, and how many events that is worth.
USUAL: Final = 0.6
_USUAL_EVENTS: Final = 40.0
#: Strangers rank among the heard as far as there are so many of them, of those heard.
_AMONG_HEARD: Final = 0.5
#: Strangers of whom up to so many times the mean is expected keep all; from so many times the mean on they are the best ones.
_FROM: Final = 1.5
_BEST: Final = 4.0
#: With less the order between these two would not stay.
_LEAST: Final = 0.4


def share_kept(rate: Floats, calls: Floats, came: npt.NDArray[np.bool_], heard: int) -> float:
    """Who came to be heard over who was expected, of the strangers from whom most was expected, drawn to `USUAL`.

    Per stranger: the `rate` at which it was expected to come in a period, the `calls` that were expected with that, and whether
    it `came`; `heard`: how many contacts had been heard by then. Equals are taken in the order that they stand in.
    """
    room = int(heard * _AMONG_HEARD)
    if room < len(calls):
        last = len(calls) - room - 1
        most_left_out = np.partition(calls, last)[last]
        better = np.flatnonzero(calls > most_left_out)
        equal = np.flatnonzero(calls == most_left_out)[: room - len(better)]
        some = np.concatenate([better, equal])
        rate, came = rate[some], came[some]
    expected = float(np.minimum(rate, 1.0).sum())
    return (np.count_nonzero(came) + USUAL * _USUAL_EVENTS) / (expected + _USUAL_EVENTS)


def lowered(calls: Floats, kept: float, mean: float) -> Floats:
    """Expected `calls`, of the best strangers times `kept`; `mean` of strangers. Where little is expected, all stays;
    between both the logarithm falls evenly, so that the order stays."""
    lead = np.log(np.clip(calls / mean, _FROM, _BEST) / _FROM) / np.log(_BEST / _FROM)
    return calls * max(kept, _LEAST) ** lead
