"""Pages of heard logs from addresses: what waits goes into the fold, page by page.

Receives settings and a fold of one page, hands on what became of all.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pruner.logs.files import FoldResult, LogFiles, is_finished, written_as
from pruner.sources.pages import Pages
from pruner.words.errors import InputRefusedError, PrunerError, SourceMissingError
from pruner.words.faults import ENDINGS, described
from pruner.words.nouns import counted

if TYPE_CHECKING:
    from pruner.settings.models import Heard, Settings


#: Where pages of addresses lie, below the state.
FETCHED: Final = Path("heard") / "fetched"
Fold = Callable[[LogFiles], FoldResult]


def pages_of(settings: Settings, heard: Heard) -> Pages:
    """The pages of the address of a heard log."""
    return Pages(settings.output.state / FETCHED / page_folder(heard.location))


def page_folder(address: str) -> str:
    """The name of the folder of an address, which does not show it."""
    return hashlib.sha256(address.encode()).hexdigest()[:16]


def fold_waiting(settings: Settings, fold: Fold) -> FoldResult:
    """Folds the pages of addresses that wait, for a caller that holds the lock of the stores. Pages that cannot be read go on
    waiting, and are laid aside once a later one can be."""
    result = FoldResult()
    remote = [heard for heard in settings.heard if heard.is_remote]
    if not remote:
        return result
    from pruner.sources.location import shown  # for those who have addresses

    for heard in remote:
        pages, address = pages_of(settings, heard), shown(heard.location)
        troubles = _fold_pages_of(heard, address, pages, result, fold)
        gone = pages.trim()
        if gone:
            troubles.append(f"{address}: its {counted(gone, 'oldest page')} that nobody could read went for lack of room")
        if troubles:
            result.refused[address] = "; ".join(troubles)
    return result


def _fold_pages_of(heard: Heard, address: str, pages: Pages, result: FoldResult, fold: Fold) -> list[str]:
    """Folds the pages of one address, the newest first; where that one cannot be read, the others are not tried either."""
    waiting = pages.waiting()
    done, refused, troubles = [], [], []
    for later, page in zip([None, *waiting], waiting, strict=False):
        has_end = None if later is None or _begins(later, page) else True
        try:
            result.add(fold(replace(written_as(heard, [page]), address=address, is_finished=has_end)))
        except ENDINGS:
            raise
        except BaseException as error:  # panics of libraries derive from it
            why = "; ".join(_refusal(error).replace(str(page), address).splitlines())
            if later is None:
                more = f"; {len(waiting)} pages wait" if len(waiting) > 1 else ""
                return [f"{why}{more} (the page: {page})"]
            refused.append(page)
            troubles = [f"{why} (the page: {pages.refused / page.name})"]
        else:
            if later is not None or _is_whole(page):
                done.append(page)
    for page in done:
        pages.done(page)
    for page in refused:
        pages.refuse(page)
    return troubles


def _refusal(error: BaseException) -> str:
    """Why a page cannot be read; raises again what is not the fault of a page. Of a fault of ours a crash file is left."""
    if isinstance(error, InputRefusedError | SourceMissingError):
        return str(error)
    if isinstance(error, PrunerError):
        raise error
    return described(error)


def _begins(text: Path, beginning: Path) -> bool:
    """Whether a file begins with all that another one holds."""
    with text.open("rb") as whole, beginning.open("rb") as part:
        while piece := part.read(1 << 20):
            if whole.read(len(piece)) != piece:
                return False
    return True


def _is_whole(page: Path) -> bool:
    """Whether nothing of a page waits for another: a last line without line feed may be cut where its file still grows."""
    with page.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        is_ended = file.read(1) == b"\n"
    return is_ended or is_finished(page, time.time())
