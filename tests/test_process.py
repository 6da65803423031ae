"""What the process of the command is set to, seen from outside: allocator and threads of the libraries."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

LOOK = """
import json, os
from pruner.process import environment_of_others, prepare_process
prepare_process()
import numpy
threads = len(os.listdir("/proc/self/task"))
import pyarrow
others = environment_of_others()
print(json.dumps([pyarrow.default_memory_pool().backend_name, threads,
    sorted({"ARROW_DEFAULT_MEMORY_POOL", "OPENBLAS_NUM_THREADS"} & others.keys())]))
"""


def look(**environment: str) -> tuple[str, int, list[str]]:
    inherited = {name: value for name, value in os.environ.items() if not name.startswith(("ARROW_", "OPENBLAS_"))}
    done = subprocess.run(
        [sys.executable, "-c", LOOK], env=inherited | environment, check=True, stdout=subprocess.PIPE, text=True
    )
    backend, threads, told = json.loads(done.stdout)
    return backend, threads, told


@pytest.mark.skipif("CS_GNU_LIBC_VERSION" not in getattr(os, "confstr_names", {}), reason="the C library is not glibc")
def test_buffers_come_from_the_system_and_no_thread_waits_for_algebra() -> None:
    assert look() == ("system", 1, [])


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="counts the threads in /proc")
def test_what_a_user_chose_stays_and_is_handed_on() -> None:
    backend, _, told = look(ARROW_DEFAULT_MEMORY_POOL="mimalloc", OPENBLAS_NUM_THREADS="1")
    assert (backend, told) == ("mimalloc", ["ARROW_DEFAULT_MEMORY_POOL", "OPENBLAS_NUM_THREADS"])
