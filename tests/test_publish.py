"""Results appear all together or not at all, and the same input gives the same bytes."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from demo_worlds import demo_without_logs, folded_demo

from pruner.job import run
from pruner.publish import folders as publish
from pruner.publish.folders import fingerprint, new_folder
from pruner.settings.load import load_settings
from pruner.words.errors import SettingsError

FIT = [sys.executable, "-m", "pruner", "fit", "--settings"]


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return folded_demo(tmp_path / "demo")


def result_of(settings: Path) -> Path:
    return settings.parent / "out" / "loan-handheld"


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def assert_complete(folder: Path) -> None:
    """Every file that the summary names is there with its hash (SHA-256, FIPS 180-4), and no other."""
    summary = json.loads((folder / "summary.json").read_bytes())
    named = {file["name"]: file["sha256"] for file in summary["files"]}
    found = {name: hashlib.sha256(data).hexdigest() for name, data in contents(folder).items() if name != "summary.json"}
    assert named == found
    assert found


@pytest.mark.long
def test_the_same_bytes_again_and_with_one_thread(demo: Path) -> None:
    run(load_settings(demo))
    first = contents(result_of(demo))
    run(load_settings(demo))
    assert contents(result_of(demo)) == first
    one_thread = {**os.environ, "POLARS_MAX_THREADS": "1"}
    subprocess.run([*FIT, str(demo)], env=one_thread, check=True, capture_output=True, timeout=60)
    assert contents(result_of(demo)) == first
    assert_complete(result_of(demo))


def test_a_failure_leaves_the_old_result(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    demo = demo_without_logs(tmp_path / "demo")
    run(load_settings(demo))
    before = contents(result_of(demo))
    for stage in ("write_contacts", "write_ledger", "write_rejected", "summarise"):

        def fail(*_: object, stage: str = stage, **__: object) -> None:
            raise RuntimeError(f"broken on purpose in {stage}")

        with monkeypatch.context() as broken:
            broken.setattr(sys.modules["pruner.job.run"], stage, fail)
            with pytest.raises(RuntimeError, match=f"broken on purpose in {stage}"):
                run(load_settings(demo))
        assert contents(result_of(demo)) == before, stage
        assert [path.name for path in result_of(demo).parent.iterdir()] == ["loan-handheld"], stage


@pytest.mark.long
@pytest.mark.parametrize("tries", [3, pytest.param(30, marks=pytest.mark.slow)])
def test_killed_at_any_moment(demo: Path, tries: int) -> None:
    started = time.monotonic()
    subprocess.run([*FIT, str(demo)], check=True, capture_output=True, timeout=60)
    whole = time.monotonic() - started
    text = demo.read_text(encoding="utf-8")
    killed = 0
    for attempt, share in enumerate(np.linspace(0.3, 1.0, tries)):
        demo.write_text(text.replace("200_000", str(1000 + attempt)), encoding="utf-8")
        process = subprocess.Popen([*FIT, str(demo)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(whole * float(share))
        process.kill()
        killed += process.wait() == -signal.SIGKILL
        assert_complete(result_of(demo))
    assert killed > 0
    run(load_settings(demo))
    assert_complete(result_of(demo))
    assert [path.name for path in result_of(demo).parent.iterdir()] == ["loan-handheld"]


@pytest.mark.long
@pytest.mark.parametrize("step", ["_sync", "_switch", "_exchange", "_remove"])
def test_killed_before_every_step_of_the_switch(tmp_path: Path, step: str) -> None:
    """A child process dies by SIGKILL just before the nth call of a step, for every n."""
    script = (
        "import os, sys\nfrom pathlib import Path\nfrom pruner.publish import folders as publish\n"
        "folder, step, countdown = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])\n"
        "real = getattr(publish, step)\n"
        "def deadly(*arguments):\n"
        "    global countdown\n"
        "    countdown -= 1\n"
        "    if countdown == 0: os.kill(os.getpid(), 9)\n"
        "    return real(*arguments)\n"
        "setattr(publish, step, deadly)\n"
        "with publish.new_folder(folder) as making:\n"
        "    (making / 'a.csv').write_text('new')\n"
        "    mark = publish.fingerprint(making / 'a.csv').model_dump_json()\n"
        '    (making / "summary.json").write_text(\'{"files": [\' + mark + "]}")\n'
    )
    folder = tmp_path / "radio"
    for countdown in range(1, 10):
        write_result(folder, "old")
        arguments = [sys.executable, "-c", script, str(folder), step, str(countdown)]
        code = subprocess.run(arguments, timeout=30, check=False).returncode
        assert set(contents(folder)) == {"a.csv", "summary.json"}
        assert contents(folder)["a.csv"] in (b"old", b"new")
        if code == 0:
            break
        assert code == -signal.SIGKILL
    assert countdown in range(2, 9)
    write_result(folder, "last")
    assert [path.name for path in tmp_path.iterdir()] == ["radio"]


def write_result(folder: Path, text: str) -> None:
    with new_folder(folder) as making:
        (making / "a.csv").write_text(text)
        (making / "summary.json").write_text(json.dumps({"files": [fingerprint(making / "a.csv").model_dump()]}))


def test_where_folders_cannot_be_exchanged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "radio"
    write_result(folder, "old")
    monkeypatch.setattr(publish, "_exchange", lambda *_: False)
    write_result(folder, "new")
    assert contents(folder)["a.csv"] == b"new"
    folder.rename(publish._aside(folder))
    with pytest.raises(RuntimeError), new_folder(folder):
        raise RuntimeError
    assert contents(folder)["a.csv"] == b"new"
    assert [path.name for path in tmp_path.iterdir()] == ["radio"]


def test_a_link_to_a_folder_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    write_result(tmp_path / "disk" / "radio", "old")
    (tmp_path / "radio").symlink_to(tmp_path / "disk" / "radio")
    for text in ("new", "newer"):
        write_result(tmp_path / "radio", text)
        assert (tmp_path / "radio").is_symlink()
        assert contents(tmp_path / "radio")["a.csv"] == text.encode()


@pytest.mark.parametrize(
    "present",
    [
        {"letters.txt": "mine"},
        {"summary.json": "{}", "letters.txt": "mine"},
        {"summary.json": '{"files": []}', "letters.txt": "mine"},
        {"summary.json": "[1]"},
    ],
)
def test_what_is_not_ours_is_refused(tmp_path: Path, present: dict[str, str]) -> None:
    folder = tmp_path / "radio"
    folder.mkdir()
    for name, text in present.items():
        (folder / name).write_text(text)
    with pytest.raises(SettingsError) as raised:
        write_result(folder, "new")
    assert str(raised.value).startswith(f"{folder}: ")
    assert contents(folder) == {name: text.encode() for name, text in present.items()}
    assert [path.name for path in tmp_path.iterdir()] == ["radio"]


def test_a_file_in_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "radio").write_text("mine")
    with pytest.raises(SettingsError, match="not the result of a run"):
        write_result(tmp_path / "radio", "new")
    assert (tmp_path / "radio").read_text() == "mine"


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EROFS])
@pytest.mark.parametrize("native", [False, True], ids=["Python", "native writer"])
def test_a_full_disk_is_one_line_and_leaves_the_old_result(tmp_path: Path, number: int, native: bool) -> None:
    """Native writers (such as that of CSV) give the number in their text only."""
    write_result(tmp_path / "radio", "old")
    text = os.strerror(number)
    with pytest.raises(SettingsError, match=re.escape(f"cannot be written ({text})")), new_folder(tmp_path / "radio"):
        raise OSError(f"{text} (os error {number})") if native else OSError(number, text)
    assert contents(tmp_path / "radio")["a.csv"] == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["radio"]
