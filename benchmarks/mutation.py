"""Mutants of the code that decides, drawn by seed, against the tests of that code: `python -m benchmarks.mutation`.

Ends with 1 where tests notice fewer than nine of ten. Each mutant that no test notices is printed; one that changes no
behaviour stands with its reason in mutation_survivors.tsv, is not tried, and counts as not noticed. Nothing is written into the
project: the mutants live in a copy of it.
"""

from __future__ import annotations

import argparse
import itertools
import os
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue

from benchmarks.mutants import Mutant, count_mutants, mutant_of
from benchmarks.mutation_worker import Worker

ROOT = Path(__file__).parent.parent
REASONS = Path(__file__).with_name("mutation_survivors.tsv")
#: What decides, and the tests that are to notice a change of it, quick ones first.
TESTS = {
    "words/number.py": ("test_ids_and_callsigns.py", "test_short_texts.py"),
    "clean/ids.py": ("test_short_texts.py", "test_ids_and_callsigns.py"),
    "clean/callsigns.py": ("test_ids_and_callsigns.py", "test_short_texts.py"),
    "clean/duplicates.py": ("test_duplicates.py", "test_against_sql.py"),
    "rules/matching.py": (
        "test_rule_conditions.py",
        "test_calls_in_rules.py",
        "test_idle_rules.py",
        "test_station_lists.py",
        "test_order_without_calls.py",
        "test_against_sql.py",
    ),
    "choose/by_number.py": ("test_fit.py", "test_against_sql.py"),
    "choose/core.py": ("test_choice_steps.py", "test_knapsack_choice.py"),
    "choose/knapsack.py": ("test_choice_steps.py", "test_knapsack_choice.py"),
    "choose/relaxation.py": ("test_choice_steps.py", "test_knapsack_choice.py"),
    "calls/packing.py": ("test_call_words.py", "test_heard_fold.py", "test_heard_counting.py"),
    "calls/spill.py": ("test_call_words.py", "test_heard_fold.py", "test_heard_store.py"),
    "calls/folding.py": ("test_call_words.py", "test_heard_fold.py", "test_heard_counting.py", "test_heard_store.py"),
    "calls/parts.py": ("test_call_words.py", "test_heard_fold.py", "test_heard_counting.py", "test_heard_store.py"),
    "calls/counting.py": ("test_heard_same_call.py", "test_heard_counting.py"),
    "layout/cells.py": ("test_layout_text.py", "test_layout_write.py"),
    "layout/widths.py": ("test_layout_text.py", "test_layout_write.py"),
}
#: The tests of a mutant are ended after so many times as long as without it, and so many seconds more: endless loops are seen.
_TIMES, _MORE = 5, 60
#: The first test that fails is enough; the same cases are drawn each time.
_OPTIONS = ("-x", "-n", "0", "-p", "no:cacheprovider", "--hypothesis-seed=1")
#: Most mutants are noticed by the tests of the default suite; the others are shown to the long ones and to all that is drawn.
_STAGES = (
    ("-m", "not long and not slow and not cluster"),
    ("-m", "(long or hypothesis) and not slow and not cluster", "--hypothesis-profile=all"),
)
_NO_TESTS = 5
#: Seconds since 1970, one for each text of a module that is tried.
_TIMES_OF_FILES = itertools.count(1_000_000_000)


def sample(count: int, seed: int, modules: Collection[str] = tuple(TESTS)) -> list[Mutant]:
    """Mutants of some modules, drawn without repetition; the same for the same source, count and seed."""
    texts = {module: (ROOT / "pruner" / module).read_text(encoding="utf-8") for module in modules}
    everything = [(module, at) for module, text in texts.items() for at in range(count_mutants(text))]
    drawn = random.Random(seed).sample(everything, min(count, len(everything)))
    return [mutant_of(module, texts[module], at) for module, at in drawn]


def reasons() -> dict[tuple[str, ...], str]:
    """Why a mutant changes no behaviour, by module, line, what stood there and what stands there now."""
    lines = [line.split("\t") for line in REASONS.read_text(encoding="utf-8").splitlines()[1:]]
    return {tuple(key): reason for *key, reason in lines}


def copied(folder: Path) -> Path:
    """The project without its history and environment."""
    for name in ("pruner", "tests", "benchmarks", "fixtures"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copyfile(ROOT / name, folder / name)
    return folder


#: Arguments of a run of tests: a stage and a file.
Run = tuple[tuple[str, ...], str]


def runs_of(module: str) -> list[Run]:
    """The runs of tests that are to notice a change of a module, one after the other."""
    return [(stage, name) for stage in _STAGES for name in TESTS[module]]


def code_of(worker: Worker, run: Run, longest: float | None = None) -> int | None:
    """The exit code of a run, None where it took longer."""
    stage, name = run
    return worker.run([*_OPTIONS, *stage, str(worker.project / "tests" / name)], longest)


def is_noticed(worker: Worker, mutant: Mutant, longest: dict[Run, float]) -> bool:
    """Whether a test fails with that mutant, or takes longer than it may. `longest`: seconds by run, of those that were needed
    until now. Raises SystemExit where a test fails without a mutant."""
    path = worker.project / "pruner" / mutant.module
    original = path.read_bytes()
    for run in runs_of(mutant.module):
        if run not in longest:
            longest[run] = _longest(worker, run)
        _put(path, mutant.source.encode())
        try:
            if code_of(worker, run, longest[run]) not in (0, _NO_TESTS):
                return True
        finally:
            _put(path, original)
    return False


def _longest(worker: Worker, run: Run) -> float:
    started = time.monotonic()
    if code_of(worker, run) not in (0, _NO_TESTS):
        raise SystemExit(f"{run[1]} fails without a mutant")
    return _TIMES * (time.monotonic() - started) + _MORE


def _put(path: Path, source: bytes) -> None:
    """Writes a module with a time of its own, so that what was compiled of an earlier text is never taken for this one."""
    path.write_bytes(source)
    time_of_its_own = next(_TIMES_OF_FILES)
    os.utime(path, (time_of_its_own, time_of_its_own))


def _drawn(given: argparse.Namespace) -> list[Mutant]:
    modules = [given.module] if given.module else tuple(TESTS)
    if not given.listed:
        return sample(given.count, given.seed, modules)
    return [mutant for mutant in sample(sys.maxsize, given.seed, modules) if _key(mutant) in reasons()]


def _key(mutant: Mutant) -> tuple[str, ...]:
    return mutant.module, mutant.text, mutant.before, mutant.after


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=30, help="no mutant is begun after so long")
    parser.add_argument("--module", choices=TESTS, help="only mutants of this module")
    parser.add_argument("--listed", action="store_true", help="only those listed: prints which of them tests notice after all")
    parser.add_argument("--side-by-side", type=int, default=min(2, os.cpu_count() or 1))
    given = parser.parse_args()
    drawn = _drawn(given)
    known, began = {} if given.listed else reasons(), time.monotonic()
    with tempfile.TemporaryDirectory(prefix="pruner-mutants-") as folder:
        workers: SimpleQueue[Worker] = SimpleQueue()
        all_workers = [Worker(copied(Path(folder) / str(at))) for at in range(given.side_by_side)]
        longest: dict[Run, float] = {}
        for one in all_workers:
            workers.put(one)

        def judged(mutant: Mutant) -> bool | None:
            if time.monotonic() - began > given.minutes * 60:
                return None
            if _key(mutant) in known:
                return False
            worker = workers.get()
            try:
                found = is_noticed(worker, mutant, longest)
            finally:
                workers.put(worker)
            if found == given.listed:
                print(f"{'' if found else 'not '}noticed: {mutant.name}", flush=True)
            return found

        with ThreadPoolExecutor(len(all_workers)) as pool:
            results = list(pool.map(judged, drawn))
        for one in all_workers:
            one.close()
    tried = [(mutant, found) for mutant, found in zip(drawn, results, strict=True) if found is not None]
    for module in sorted({mutant.module for mutant in drawn}):
        print(_figures(module, [one for one in tried if one[0].module == module], known))
    print(_figures(f"{len(drawn)} drawn with seed {given.seed}", tried, known))
    return 0 if tried and sum(found for _, found in tried) >= 0.9 * len(tried) else 1


def _figures(what: str, tried: Sequence[tuple[Mutant, bool]], known: Collection[tuple[str, ...]]) -> str:
    listed = sum(_key(mutant) in known for mutant, _ in tried)
    return f"{what}: tests notice {sum(found for _, found in tried)} of {len(tried)}; {listed} change nothing (listed)"


if __name__ == "__main__":
    sys.exit(main())
