"""What the process of the command is set to, seen from outside: allocator and threads of the libraries."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

LOOK = """
import json, os
from pruner.words.process import as_it_was, prepare_process
before = dict(os.environ)
prepare_process()
import numpy
threads = len(os.listdir("/proc/self/task"))
import pyarrow
backend = pyarrow.default_memory_pool().backend_name
as_it_was()
print(json.dumps([backend, threads, before == dict(os.environ)]))
"""
KNOWN = ("ARROW_", "OPENBLAS_", "GOTO_", "OMP_")


def look(**environment: str) -> tuple[str, int, bool]:
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(KNOWN)}
    done = subprocess.run(
        [sys.executable, "-c", LOOK], env=inherited | environment, check=True, stdout=subprocess.PIPE, text=True
    )
    backend, threads, is_as_before = json.loads(done.stdout)
    return backend, threads, is_as_before


on_glibc = pytest.mark.skipif(
    "CS_GNU_LIBC_VERSION" not in getattr(os, "confstr_names", {}), reason="the C library is not glibc"
)
on_linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="counts the threads in /proc")


@on_glibc
def test_buffers_come_from_the_system_and_no_thread_waits_for_algebra() -> None:
    assert look() == ("system", 1, True)


@on_linux
def test_the_allocator_that_a_user_chose_stays() -> None:
    assert look(ARROW_DEFAULT_MEMORY_POOL="mimalloc") == ("mimalloc", 1, True)


HEAPS = """
import ctypes, sys, threading
from pruner.words.process import prepare_process
prepare_process()
library = ctypes.CDLL(None)
library.malloc.restype = library.fopen.restype = ctypes.c_void_p
together = threading.Barrier(4)
def take():
    library.malloc(ctypes.c_size_t(1000))
    together.wait()
threads = [threading.Thread(target=take) for _ in range(4)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
file = ctypes.c_void_p(library.fopen(sys.argv[1].encode(), b"w"))
library.malloc_info(0, file)
library.fclose(file)
"""


@on_glibc
@pytest.mark.parametrize(
    ("chosen", "heaps"), [({}, 1), ({"MALLOC_ARENA_MAX": "3"}, 3), ({"GLIBC_TUNABLES": "glibc.malloc.arena_max=2"}, 2)]
)
def test_threads_share_a_heap_unless_a_user_says_otherwise(tmp_path: Path, chosen: dict[str, str], heaps: int) -> None:
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(("MALLOC_", "GLIBC_"))}
    subprocess.run([sys.executable, "-c", HEAPS, str(tmp_path / "heaps.xml")], env=inherited | chosen, check=True)
    assert (tmp_path / "heaps.xml").read_text().count("<heap nr=") == heaps


@on_linux
@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one processor")
@pytest.mark.parametrize("name", ["OPENBLAS_NUM_THREADS", "GOTO_NUM_THREADS", "OMP_NUM_THREADS"])
def test_the_threads_that_a_user_chose_stay(name: str) -> None:
    assert look(**{name: "2"})[1:] == (2, True)


def test_the_library_leaves_the_collector_of_the_host_alone() -> None:
    look_at = "print(before == gc.get_threshold(), gc.get_freeze_count(), gc.isenabled())"
    code = f"import gc; before = gc.get_threshold(); import pruner.job; {look_at}"
    done = subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.PIPE, text=True)
    assert done.stdout.split() == ["True", "0", "True"]


ARRAYS = """
import sys
from pruner.words.process import prepare_process, with_frames
prepare_process()
import pyarrow
pyarrow.array(["a", None])
print("pandas.core" in sys.modules)
with_frames()
import pandas
print(pandas.DataFrame({"a": [1]}).shape)
"""


def test_arrow_loads_no_library_of_frames_until_somebody_needs_it() -> None:
    done = subprocess.run([sys.executable, "-c", ARRAYS], check=True, stdout=subprocess.PIPE, text=True)
    assert done.stdout.splitlines() == ["False", "(1, 1)"]


PLAIN = """
import sys
from pruner.words.process import prepare_process
prepare_process()
from pruner.cli.boundary import guarded
code = guarded(sys.argv[1:])
MORE = {"polars", "pandas", "pyarrow.dataset", "altair", "urllib3", "duckdb", "narwhals"}
MORE |= {"pruner.read.heard_json", "pruner.read.heard_text", "scipy.optimize", "scipy.stats", "numpy.f2py"}
print(code, sorted(MORE & sys.modules.keys()))
"""


SETTINGS = """
[home]
country = "AT"
locator = "JN88"
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "all"
order = "{order}"
[[radio]]
name = "radio"
contacts = 10
"""


def loaded_by_a_fit(folder: Path, order: str, more: str = "") -> str:
    """The code of a fit of a small directory, and what it loaded of what a plain one does not need."""
    rows = "".join(f"OE1A{chr(65 + row)}C,{2321001 + row},Anna {row},Austria,Wien\n" for row in range(20))
    (folder / "stations.csv").write_text(f"Call Sign,DMR ID,Name,Country,City\n{rows}OE9XYZ,x,,Austria,\n")
    (folder / "pruner.toml").write_text(SETTINGS.format(order=order) + more)
    command = [sys.executable, "-c", PLAIN, "fit"]
    done = subprocess.run(command, cwd=folder, check=True, stdout=subprocess.PIPE, text=True)
    return done.stdout.splitlines()[-1]


@pytest.mark.parametrize("order", ["id", "nearest"])
def test_a_plain_fit_loads_only_what_it_needs(tmp_path: Path, order: str) -> None:
    assert loaded_by_a_fit(tmp_path, order) == "0 []"


def test_a_fit_with_a_layout_loads_more(tmp_path: Path) -> None:
    (tmp_path / "layout.toml").write_text('[[column]]\ntitle = "Id"\nvalue = "{id}"\n')
    assert loaded_by_a_fit(tmp_path, "id", 'layout = "layout.toml"\n') == "0 ['polars']"


def heard_log(days: int) -> str:
    """Calls of sixteen stations on some days, enough for a forecast."""
    start = datetime(2026, 1, 1, 12, tzinfo=UTC)
    calls = [
        f"{start + timedelta(days=day, minutes=one):%Y-%m-%d %H:%M:%S},{2321001 + one},9,{5 + one}\n"
        for day in range(days)
        for one in range(16)
        if (day + one) % 4
    ]
    return "Time,DMR ID,Talkgroup,Seconds\n" + "".join(calls)


def test_a_fit_with_known_logs_forecasts_without_what_reads_new_ones(tmp_path: Path) -> None:
    (tmp_path / "calls.csv").write_text(heard_log(days=90))
    heard = '[[heard]]\nlocation = "calls.csv"\n'
    assert "pruner.read.heard_text" in loaded_by_a_fit(tmp_path, "expected", heard)
    assert loaded_by_a_fit(tmp_path, "expected", heard) == "0 ['numpy.f2py', 'polars']"  # scipy.special loads the one
    told = json.loads((tmp_path / "out" / "radio" / "summary.json").read_text(encoding="utf-8"))
    assert told["coverage"]["to_come"]["low"] is not None
