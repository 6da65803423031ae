"""The one owner of threads: what is done side by side, by how many threads, and how it ends.

Each kind of work has a pool of its own, opened for one stretch of work and closed behind it. A thread of a pool waits only for
kinds that stand further down in `Work`, never for its own: no wait goes round in a circle. Whoever leaves a pool by an error or
an interrupt waits for what has begun; the rest is not begun. An exception stays in its future and is raised where the result is
asked for. Results never depend on how many threads there are; polars and Arrow keep the threads that they have.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from enum import Enum
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import ParamSpec, Self, TypeVar

__all__ = ["Future", "LateError", "Pool", "Work", "beside", "within"]

Arguments = ParamSpec("Arguments")
Item = TypeVar("Item")
Result = TypeVar("Result")


class Work(Enum):
    """Kinds of work, from the outermost to the innermost, and by how many threads each is done: by two where they compute (more
    take memory for runs that wait), by more where they wait for others."""

    FETCHING = ("fetch addresses", 4)
    WRITING = ("write files of a radio", 2)
    MERGING = ("merge days of calls", 2)
    PARSING = ("parse runs of records", 2)
    JUDGING = ("judge runs of a whole file", 1)
    UNPACKING = ("unpack a whole file", 1)
    LEDGER = ("make the next part of the ledger", 1)
    RANKS = ("put ranks in their places", 1)
    LINES = ("make lines of contacts", 2)
    HASHING = ("hash files", 1)

    @property
    def size(self) -> int:
        """So many threads."""
        return self.value[1]

    @property
    def depth(self) -> int:
        """The place among the kinds: greater is further in."""
        return list(Work).index(self)


class Pool:
    """The threads of one kind of work, for one stretch of it: `with Pool(Work.PARSING) as pool`."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self._is_given_up = False
        self._threads = ThreadPoolExecutor(work.size, thread_name_prefix=f"pruner {work.value[0]}")

    def submit(
        self, function: Callable[Arguments, Result], /, *values: Arguments.args, **named: Arguments.kwargs
    ) -> Future[Result]:
        """Has a function called in one of the threads. Raises RuntimeError in a thread of this kind, or of one further in."""
        outer = getattr(_own, "work", None)
        if outer is not None and outer.depth >= self.work.depth:
            raise RuntimeError(f"{self.work.name} is asked for from within {outer.name}, which stands no further out")
        return self._threads.submit(self._run, function, *values, **named)

    def map(self, function: Callable[[Item], Result], items: Iterable[Item]) -> Iterator[Result]:
        """Results for items, in their order."""
        for future in [self.submit(function, item) for item in items]:
            yield future.result()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._is_given_up = kind is not None
        try:
            self._threads.shutdown(cancel_futures=self._is_given_up)
        except KeyboardInterrupt:  # while the last jobs were waited for
            self._is_given_up = True
            raise

    def _run(self, function: Callable[Arguments, Result], /, *values: Arguments.args, **named: Arguments.kwargs) -> Result:
        if self._is_given_up:
            raise CancelledError
        _own.work = self.work
        return function(*values, **named)


_own = threading.local()


def beside(work: Work, jobs: Iterable[Callable[[], Result]]) -> list[Future[Result]]:
    """Begins jobs that go on beside whatever the caller does next; their pool ends behind the last of them."""
    pool = Pool(work)
    begun = [pool.submit(job) for job in jobs]
    pool._threads.shutdown(wait=False)
    return begun


class LateError(Exception):
    """What was to be done within some time was not."""


def within(seconds: float, function: Callable[[], Result], name: str) -> Result:
    """Calls a function in a thread of its own, which is left alone when its time is over (it ends with the process): for what
    cannot be broken off, such as the look-up of a name. Raises LateError, or whatever the function raises."""
    outcome: SimpleQueue[Future[Result]] = SimpleQueue()

    def run() -> None:
        done: Future[Result] = Future()
        try:
            done.set_result(function())
        except BaseException as error:
            done.set_exception(error)
        outcome.put(done)

    threading.Thread(target=run, name=f"pruner {name}", daemon=True).start()
    try:
        return outcome.get(timeout=max(seconds, 0.0)).result()
    except Empty:
        raise LateError from None
