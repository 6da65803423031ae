"""The choice for one radio: its rules, its limit, the entries it carries.

Receives what was loaded, hands on who is kept at which rank. Writes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from pruner.account.summary import MemoryUse
from pruner.choose.by_number import Fit, Queue, fit_by_number
from pruner.job.carried import Carried, behind, read_carried, without_carried
from pruner.job.load import Loaded
from pruner.rules.matching import Ownership, order_of, queue_of
from pruner.settings.models import KeepRule, Radio
from pruner.words.outcomes import Reason

#: A mask over all contacts is so many times smaller than their positions.
_SMALLER: Final = 8
#: More contacts than there are addresses, and entries that a radio carries besides.
_ENDLESS: Final = 1 << 31


@dataclass(frozen=True, slots=True)
class Choice:
    """Who is kept in one radio. `rules` are the keep rules that count for it, in its order. Where the limit is
    bytes, `level` (int8 per contact, -1 where not kept) says how much text is stored, and `memory` what the summary tells."""

    radio: Radio
    rules: list[KeepRule]
    ownership: Ownership
    fit: Fit
    carried: Carried | None
    level: npt.NDArray[np.int8] | None = None
    memory: MemoryUse | None = None

    @property
    def kept(self) -> npt.NDArray[np.bool_]:
        """Which contacts are kept."""
        return self.fit.reason == Reason.NONE.value


def choose(loaded: Loaded, radio: Radio) -> Choice:
    """Fits one radio. Raises InputRefusedError where its export cannot be read."""
    rules, ownership = loaded.keep_rules(radio), loaded.ownership(radio)
    room = room_in(loaded, radio)
    carried = None
    if radio.carried is not None:
        system, layout = loaded.settings.sources[0].system, loaded.layouts.get(radio.name)
        carried = read_carried(radio.carried, radio.carried_columns, system, room, layout)
        room -= carried.kept
        ownership = _giving_way(loaded, ownership, carried)
    if radio.memory is not None:
        from pruner.job.memory import fit_memory  # for those whose limit is bytes

        endless = fit_by_number(ownership.reason, *_queues(loaded, radio, rules, ownership, len(loaded.contacts)))
        found = fit_memory(loaded, radio, endless, ownership.owner, carried)
        fit = behind(found.fit, found.carried) if found.carried else found.fit
        return Choice(radio, rules, ownership, fit, found.carried, found.level, found.told)
    fit = fit_by_number(ownership.reason, *_queues(loaded, radio, rules, ownership, room))
    return Choice(radio, rules, ownership, behind(fit, carried) if carried else fit, carried)


def room_in(loaded: Loaded, radio: Radio) -> int:
    """How many contacts, entries that it carries included, a radio has room for."""
    return max((len(loaded.contacts) if radio.contacts is None else radio.contacts) - radio.keep_free, 0)


def whole_queue(loaded: Loaded, radio: Radio) -> Choice:
    """The choice for a radio that has room for everybody: the first so many ranks are what it keeps at any other limit."""
    return choose(loaded, radio.model_copy(update={"contacts": _ENDLESS, "keep_free": 0, "memory": None}))


def _giving_way(loaded: Loaded, ownership: Ownership, carried: Carried) -> Ownership:
    reason = ownership.reason.copy()
    same = without_carried(carried, loaded.contacts.number, loaded.contacts.system)
    reason[same] = Reason.DUPLICATE_ID
    owner = np.where(same, np.int16(-1), ownership.owner).astype(np.int16)
    owned = [int(np.count_nonzero((owner == index) & (reason == Reason.NONE))) for index in range(len(ownership.owned))]
    left_out = [int(np.count_nonzero((owner == i) & (reason == Reason.LEFT_OUT))) for i in range(len(ownership.left_out))]
    return replace(ownership, reason=reason, owner=owner, owned=owned, left_out=left_out)


def _queues(
    loaded: Loaded, radio: Radio, rules: list[KeepRule], ownership: Ownership, room: int
) -> tuple[list[Queue], int, npt.NDArray[np.int64] | None]:
    settings = loaded.settings
    queues: list[Queue] = []
    for index, rule in enumerate(rules):
        waiting: npt.NDArray[Any]
        owned = (ownership.owner == index) & (ownership.reason == Reason.NONE)
        order = order_of(loaded.contacts, settings.order(rule, radio))
        talkgroups = settings.talkgroups_of(rule) or settings.talkgroups.mine or None
        if order == "id" and ownership.owned[index] * _SMALLER > len(owned):
            waiting = owned
        else:
            window, route = settings.calls.window_days, loaded.routes.get(rule.name)
            waiting = queue_of(loaded.contacts, np.flatnonzero(owned), order, talkgroups, window, route)
        queues.append(Queue(waiting, rule.at_most, settings.one_per_callsign(rule)))
    single = any(queue.one_per_callsign for queue in queues)
    return queues, room, loaded.contacts.callsign_codes if single else None
