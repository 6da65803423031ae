"""The one owner of threads: what is done side by side, by how many threads, and how it ends.

Each kind of work has a pool of its own, opened for one stretch of work and closed behind it. A thread of a pool waits only for
kinds that stand further down in `Work`, never for its own: no wait goes round in a circle. Whoever leaves a pool by an error or
an interrupt waits for what has begun; the rest is not begun. An exception stays in its future and is raised where the result is
asked for. Results never depend on how many threads there are; polars and Arrow keep the threads that they have.

The pools are not those of the standard library: an interrupt can come while the main thread takes one of their locks, which it
then keeps for good, and the process waits at its end for threads that wait for it. Here jobs are handed over without such
a lock, and the end of a process waits for jobs, not for threads.
"""

from __future__ import annotations

import atexit
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from enum import Enum
from functools import partial
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Final, ParamSpec, Self, TypeVar
from weakref import WeakSet

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


#: How often the end of a pool looks whether what has begun is done, in seconds.
_LOOK: Final = 0.002
_Job = Callable[[], object]


class Pool:
    """The threads of one kind of work, for one stretch of it: `with Pool(Work.PARSING) as pool`."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self._is_given_up = False
        self._jobs: SimpleQueue[_Job | None] = SimpleQueue()
        self._busy: set[int] = set()
        names = (f"pruner {work.value[0]} {number}" for number in range(work.size))
        self._threads = [threading.Thread(target=self._serve, name=name, daemon=True) for name in names]
        _open.add(self)
        for thread in self._threads:
            thread.start()

    def submit(
        self, function: Callable[Arguments, Result], /, *values: Arguments.args, **named: Arguments.kwargs
    ) -> Future[Result]:
        """Has a function called in one of the threads. Raises RuntimeError in a thread of this kind, or of one further in."""
        outer = getattr(_own, "work", None)
        if outer is not None and outer.depth >= self.work.depth:
            raise RuntimeError(f"{self.work.name} is asked for from within {outer.name}, which stands no further out")
        future: Future[Result] = Future()
        self._jobs.put(partial(self._run, future, partial(function, *values, **named)))
        return future

    def map(self, function: Callable[[Item], Result], items: Iterable[Item]) -> Iterator[Result]:
        """Results for items, in their order."""
        for future in [self.submit(function, item) for item in items]:
            yield future.result()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()
        if kind is None:
            try:
                for thread in self._threads:
                    thread.join()
                return
            except BaseException:  # while the last jobs were waited for
                self.give_up()
                raise
        self.give_up()

    def close(self) -> None:
        """The threads end behind the last job; nobody waits for them."""
        for _ in self._threads:
            self._jobs.put(None)

    def give_up(self) -> None:
        """Begins nothing more, and waits for what has begun."""
        self._is_given_up = True
        while self._busy:
            time.sleep(_LOOK)

    def _serve(self) -> None:
        _own.work = self.work
        while (job := self._jobs.get()) is not None:
            job()
            del job  # or it, and its result, would last until the next one

    def _run(self, future: Future[Result], function: Callable[[], Result]) -> None:
        thread = threading.get_ident()
        self._busy.add(thread)
        try:
            if self._is_given_up:
                done: _Job = future.cancel
            elif not future.set_running_or_notify_cancel():
                return
            else:
                done = partial(future.set_result, function())
        except BaseException as error:
            done = partial(future.set_exception, error)
        finally:
            self._busy.discard(thread)
        done()


@atexit.register
def _end() -> None:
    """No job may be under way when the libraries that it calls are taken down."""
    for pool in list(_open):
        pool.give_up()


_open: WeakSet[Pool] = WeakSet()
_own = threading.local()


def beside(work: Work, jobs: Iterable[Callable[[], Result]]) -> list[Future[Result]]:
    """Begins jobs that go on beside whatever the caller does next; their pool ends behind the last of them."""
    pool = Pool(work)
    begun = [pool.submit(job) for job in jobs]
    pool.close()
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
