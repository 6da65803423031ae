"""A process that publishes one version after another is killed at random moments: readers always find one whole version."""

from __future__ import annotations

import hashlib
import json
import os
import random
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from pruner.publish.lock import locked
from pruner.publish.versions import new_version, versions
from pruner.words.errors import SettingsError

_ENDLESS = """
import json, sys
from pathlib import Path
from pruner.publish.folders import fingerprint, new_folder
from pruner.publish.versions import new_version
out, state, number = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
def write(folder, text):
    folder.mkdir(exist_ok=True)
    for name in ("contacts.csv", "rejected.csv"): (folder / name).write_text(text * 2000)
    files = [fingerprint(folder / name).model_dump() for name in ("contacts.csv", "rejected.csv")]
    (folder / "summary.json").write_text(json.dumps({"files": files}))
if sys.argv[4] == "plain" and not out.exists():
    for radio in ("one", "two", "three"):
        with new_folder(out / radio) as making: write(making, f"{number}\\n")
while True:
    number += 1
    with new_version(out, state, 3) as making:
        for radio in ("one", "two", "three"): write(making / radio, f"{number}\\n")
    print(number, flush=True)
"""


def whole_version(out: Path) -> int:
    """The number in a published folder whose files are all there, with the hash that the summary names (FIPS 180-4)."""
    seen = set()
    version = (out / "current").resolve()
    assert version.parent == out / ".versions"
    for radio in version.iterdir():
        summary = json.loads((radio / "summary.json").read_bytes())
        named = {file["name"]: file["sha256"] for file in summary["files"]}
        found = {path.name: path.read_bytes() for path in radio.iterdir() if path.name != "summary.json"}
        assert {name: hashlib.sha256(data).hexdigest() for name, data in found.items()} == named
        seen |= {int(data.split()[0]) for data in found.values()}
    assert len(seen) == 1, "files of different versions stand together"
    return seen.pop()


@pytest.mark.long
@pytest.mark.parametrize("kills", [20, pytest.param(400, marks=pytest.mark.slow)])
def test_killed_at_random_moments(tmp_path: Path, kills: int) -> None:
    out, state = tmp_path / "out", tmp_path / ".pruner"
    randomness = random.Random(20_261_125)
    number = told = 0
    while_publishing = done = 0
    while done < kills or (while_publishing <= kills // 4 and done < 5 * kills):
        done += 1
        child = subprocess.Popen(
            [sys.executable, "-c", _ENDLESS, str(out), str(state), str(number), "plain"], stdout=subprocess.PIPE, text=True
        )
        assert child.stdout is not None
        told = int(child.stdout.readline())  # the first publication is done: from here on every moment is interesting
        time.sleep(randomness.uniform(0, 0.06))
        child.kill()
        told = max([told, *(int(line) for line in child.stdout.read().split())])
        child.wait()
        child.stdout.close()
        published = whole_version(out)
        assert published in (told, told + 1), "a version that was announced is gone, or one of the future is there"
        while_publishing += any(path.name.endswith("-making") for path in (out / ".versions").iterdir())
        number = published
    assert while_publishing > kills // 4, "the kills came at moments where nothing was under way"
    with pytest.raises(RuntimeError, match="give up"), new_version(out, state, 3):
        raise RuntimeError("give up")
    assert whole_version(out) == number
    left = {path.name for path in tmp_path.iterdir()} | {path.name for path in (out / ".versions").iterdir()}
    assert not [name for name in left if name.endswith(("ing", "part", "before"))]
    assert 1 <= len(versions(out, state)) <= 4


def test_a_reader_never_finds_the_folder_missing_or_mixed(tmp_path: Path) -> None:
    """Whoever opens the published folder once and reads through it sees one version, while publications go on."""
    out, state = tmp_path / "out", tmp_path / ".pruner"
    child = subprocess.Popen([sys.executable, "-c", _ENDLESS, str(out), str(state), "0", "nothing"], stdout=subprocess.PIPE)
    try:
        assert child.stdout is not None
        child.stdout.readline()
        seen = set()
        while len(seen) <= 5 and child.poll() is None:
            assert os.path.isdir(out), "the published folder was missing"  # noqa: PTH112 (called very often)
            opened = os.open(out / "current", os.O_RDONLY | os.O_DIRECTORY)
            try:
                file = os.open("one/contacts.csv", os.O_RDONLY, dir_fd=opened)
                seen.add(os.read(file, 100).split()[0])
                os.close(file)
            except FileNotFoundError:  # a reader that is slower than three publications: its version is gone
                pass
            finally:
                os.close(opened)
        assert len(seen) > 5
    finally:
        child.kill()
        child.wait()
        child.stdout.close() if child.stdout else None


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 2 MB (needs the right to mount one)."""
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    try:
        mounted = subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        mounted = False
    if not mounted:
        pytest.skip("a small file system cannot be mounted here (needs root)")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True, capture_output=True)


def publish_bytes(out: Path, state: Path, size: int, first: bytes) -> None:
    with new_version(out, state, 2) as making:
        (making / "one").mkdir()
        data = first + bytes(size)
        (making / "one" / "contacts.csv").write_bytes(data)
        files = [{"name": "contacts.csv", "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}]
        (making / "one" / "summary.json").write_text(json.dumps({"files": files}))


def test_a_full_disk_is_one_line_and_leaves_the_published_version(small_disk: Path) -> None:
    out, state = small_disk / "out", small_disk / "state"
    publish_bytes(out, state, 1000, b"good")
    for size in (3_000_000, 2_090_000, 2_080_000):
        with pytest.raises(SettingsError, match="No space left on device"):
            publish_bytes(out, state, size, b"bad")
        assert (out / "one/contacts.csv").read_bytes().startswith(b"good")
        assert [version.number for version in versions(out, state)] == [1]
    publish_bytes(out, state, 100_000, b"better")
    assert (out / "one/contacts.csv").read_bytes().startswith(b"better")


def test_a_file_size_limit_is_one_line_too(tmp_path: Path) -> None:
    """The same without the right to mount: the system refuses files above a size (setrlimit, POSIX.1-2017)."""
    import signal

    out, state = tmp_path / "out", tmp_path / "state"
    publish_bytes(out, state, 1000, b"good")
    before, handler = resource.getrlimit(resource.RLIMIT_FSIZE), signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, before[1]))
        with pytest.raises(SettingsError, match="File too large"):
            publish_bytes(out, state, 100_000, b"bad")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, handler)
    assert (out / "one/contacts.csv").read_bytes().startswith(b"good")


@pytest.mark.parametrize("what", ["output", "state"])
def test_a_read_only_place_is_one_line_before_any_work(small_disk: Path, tmp_path: Path, what: str) -> None:
    out = (small_disk if what == "output" else tmp_path) / "out"
    state = (small_disk if what == "state" else tmp_path) / "state"
    publish_bytes(out, state, 1000, b"good")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with (
        pytest.raises(SettingsError, match="Read-only file system") as raised,
        locked(state, "refresh"),
        new_version(out, state, 2),
    ):
        pytest.fail("work began")
    assert len(str(raised.value).splitlines()) == 1
    assert (out / "one/contacts.csv").read_bytes().startswith(b"good")
    assert [version.current for version in versions(out, state)] == [True]
