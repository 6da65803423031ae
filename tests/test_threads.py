"""The owner of threads: nesting, names, exceptions, and how pools end."""

from __future__ import annotations

import subprocess
import sys
import threading

import pytest

from pruner.words.threads import LateError, Pool, Work, beside, within

KINDS = list(Work)


@pytest.mark.parametrize("outer", KINDS)
@pytest.mark.parametrize("inner", KINDS)
def test_only_work_further_in_is_asked_for_from_within(outer: Work, inner: Work) -> None:
    with Pool(outer) as outer_pool, Pool(inner) as inner_pool:
        nested = outer_pool.submit(lambda: inner_pool.submit(int, "5").result())
        if KINDS.index(inner) > KINDS.index(outer):
            assert nested.result() == 5
        else:
            with pytest.raises(RuntimeError, match=f"{inner.name} is asked for from within {outer.name}"):
                nested.result()
        assert inner_pool.submit(int, "7").result() == 7  # from outside always


def test_a_pool_has_the_size_and_name_of_its_kind() -> None:
    def name_of(_: int) -> str:
        together.wait(30)
        return threading.current_thread().name

    for work in KINDS:
        together = threading.Barrier(work.size)
        with Pool(work) as pool:
            names = set(pool.map(name_of, range(work.size)))
        assert len(names) == work.size
        assert all(name.startswith(f"pruner {work.value[0]}") for name in names)


def test_results_are_in_the_order_of_the_items_and_errors_are_themselves() -> None:
    error = KeyError("mine")

    def fail(number: int) -> int:
        if number == 3:
            raise error
        return -number

    with Pool(Work.PARSING) as pool:
        assert list(pool.map(lambda number: -number, range(50))) == [-number for number in range(50)]
        with pytest.raises(KeyError) as caught:
            list(pool.map(fail, range(5)))
        assert caught.value is error
        assert pool.submit(fail, 1).result() == -1


def test_what_has_not_begun_is_not_begun_after_an_error() -> None:
    begun, go = threading.Event(), threading.Event()
    done: list[int] = []

    def first() -> None:
        begun.set()
        go.wait(30)
        done.append(0)

    def fail_within() -> None:
        with Pool(Work.LEDGER) as pool:
            pool.submit(first)
            waiting.extend(pool.submit(done.append, number) for number in range(1, 20))
            begun.wait(30)
            threading.Timer(0.05, go.set).start()
            raise ValueError("of the caller")

    waiting: list[object] = []
    with pytest.raises(ValueError, match="of the caller"):
        fail_within()
    assert done == [0]  # what had begun was waited for


@pytest.mark.parametrize("times", [1, 2])
def test_an_interrupt_ends_the_process_although_much_is_waiting(times: int) -> None:
    """Real signals, as Ctrl-C sends them: while the main thread waits for the first result, and once more while it ends."""
    code = f"""
import os, signal, threading, time
from pruner.words.threads import Pool, Work
begun, signals = [], threading.Lock()
def work(number):
    begun.append(number)
    time.sleep(0.05)
    with signals:
        if number < {times}:
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(0.05)
try:
    with Pool(Work.PARSING) as pool:
        list(pool.map(work, range(10_000)))
finally:
    print(len(begun) < 1000, flush=True)
"""
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)
    assert run.stdout == "True\n"
    assert run.stderr.rstrip().endswith("KeyboardInterrupt")


def test_a_lock_that_an_interrupt_left_taken_keeps_nobody() -> None:
    """What CPython does where an interrupt comes just behind the taking of a lock, as seen with Ctrl-C now and then."""
    code = """
import threading, time
from pruner.words.threads import Pool, Work
with Pool(Work.PARSING) as pool:
    futures = [pool.submit(time.sleep, 0.05) for _ in range(100)]
    futures[0]._condition.acquire()
    raise KeyboardInterrupt
"""
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert run.stderr.rstrip().endswith("KeyboardInterrupt")


def test_work_beside_goes_on_and_its_pool_ends() -> None:
    go = threading.Event()
    begun = beside(Work.HASHING, [lambda: go.wait(30), lambda: threading.current_thread()])
    assert not begun[0].done()
    go.set()
    assert begun[0].result() is True
    thread = begun[1].result()
    assert isinstance(thread, threading.Thread)
    thread.join(30)
    assert not thread.is_alive()


def test_what_is_late_is_left_alone() -> None:
    go = threading.Event()
    with pytest.raises(LateError):
        within(0, lambda: go.wait(30), "test")
    go.set()
    assert within(30, lambda: 5, "test") == 5
    with pytest.raises(TimeoutError, match="of the work"):
        within(30, lambda: (_ for _ in ()).throw(TimeoutError("of the work")), "test")
    assert within(30, lambda: threading.current_thread().daemon, "test")
