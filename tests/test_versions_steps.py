"""Versions: made aside, read back, published by one rename, kept, brought back and purged."""

from __future__ import annotations

import errno
import json
import os
import shutil
import warnings
from pathlib import Path

import pytest

from pruner.publish import folders as publish
from pruner.publish import notes
from pruner.publish import versions as report_versions
from pruner.publish.folders import fingerprint, new_folder
from pruner.publish.versions import damaged, elsewhere, new_version, purge, rollback, versions
from pruner.words.errors import NothingToDoError, PrunerError, SettingsError


def write_radio(folder: Path, text: str) -> None:
    folder.mkdir(exist_ok=True)
    (folder / "contacts.csv").write_text(text)
    (folder / "summary.json").write_text(json.dumps({"files": [fingerprint(folder / "contacts.csv").model_dump()]}))


def publish_text(folder: Path, state: Path, text: str, keep: int = 4) -> None:
    with new_version(folder, state, keep) as making:
        for radio in ("one", "two"):
            write_radio(making / radio, text)
        (making / "groups").mkdir()
        write_radio(making / "groups" / "one", text)


def shown(folder: Path) -> str:
    """What a reader of the published folder finds; both radios must be of one version."""
    texts = {(folder / radio / "contacts.csv").read_text() for radio in ("one", "two")}
    assert len(texts) == 1
    return texts.pop()


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture
def place(tmp_path: Path) -> tuple[Path, Path]:
    return tmp_path / "out", tmp_path / ".pruner"


def numbers(state: Path) -> list[int]:
    return [version.number for version in versions(state.with_name("out"), state)]


def test_versions_are_published_kept_and_dropped(place: tuple[Path, Path]) -> None:
    out, state = place
    for count in range(1, 8):
        publish_text(out, state, f"text {count}", keep=3)
        assert shown(out) == f"text {count}"
    assert not out.is_symlink()
    assert (out / "current").readlink() == Path(".versions/7")
    assert {name: (out / name).readlink() for name in ("one", "two", "groups")} == {
        name: Path("current") / name for name in ("one", "two", "groups")
    }
    assert [(one.number, one.current) for one in versions(out, state)] == [(5, False), (6, False), (7, True)]
    assert versions(out, state)[-1].radios == ("groups/one", "one", "two")
    assert names(out.parent) == {"out"}
    assert names(out) == {".versions", "current", "one", "two", "groups"}
    assert names(out / ".versions") == {"5", "6", "7", "5.json", "6.json", "7.json", "last-number"}
    assert names(out / ".versions" / "7") == {"groups", "one", "two"}


def test_back_and_forth(place: tuple[Path, Path]) -> None:
    out, state = place
    for count in (1, 2, 3):
        publish_text(out, state, f"text {count}")
        (out / "current" / ".DS_Store").touch()  # a file manager was here
    assert rollback(out, state).number == 2
    assert shown(out) == "text 2"
    assert rollback(out, state).current
    assert shown(out) == "text 1"
    with pytest.raises(SettingsError, match="no earlier version"):
        rollback(out, state)
    with pytest.raises(NothingToDoError, match="version 1 is the published one"):
        rollback(out, state, 1)
    with pytest.raises(SettingsError, match=r"no version 9 \(kept: 1, 2, 3\)"):
        rollback(out, state, 9)
    assert rollback(out, state, 3).number == 3
    assert shown(out) == "text 3"
    assert names(out.parent) == {"out"}


def test_the_published_version_is_never_dropped(place: tuple[Path, Path]) -> None:
    out, state = place
    publish_text(out, state, "good", keep=1)
    publish_text(out, state, "bad", keep=2)
    rollback(out, state, 1)
    with pytest.raises(RuntimeError), new_version(out, state, 1):
        raise RuntimeError
    assert shown(out) == "good"
    assert purge(out, state) == [2]
    assert shown(out) == "good"
    publish_text(out, state, "better", keep=1)
    assert numbers(state) == [3]  # no number is ever used twice


def test_purge_leaves_nothing_but_the_published_version(place: tuple[Path, Path]) -> None:
    out, state = place
    for text in ("OE1AAA", "OE1BBB"):
        publish_text(out, state, text)
    assert purge(out, state) == [1]
    found = [path for path in out.parent.rglob("*") if path.is_file() and b"OE1AAA" in path.read_bytes()]
    assert found == []
    assert shown(out) == "OE1BBB"


def test_purge_keeps_the_newest_where_none_is_published(place: tuple[Path, Path]) -> None:
    out, state = place
    publish_text(out, state, "first")
    publish_text(out, state, "second")
    (out / "current").unlink()
    assert purge(out, state) == [1]
    assert numbers(state) == [2]
    (out.parent / "disk").symlink_to("not/mounted")
    with pytest.raises(SettingsError, match="mount the disk"):
        purge(out.parent / "disk", state)


def test_two_published_folders_share_a_state(tmp_path: Path) -> None:
    a, b, state = tmp_path / "a", tmp_path / "b", tmp_path / "state"
    for count in (1, 2, 3):
        publish_text(a, state, f"a {count}", keep=1)
        publish_text(b, state, f"b {count}", keep=2)
    assert [version.number for version in versions(a, state)] == [3]
    assert [version.number for version in versions(b, state)] == [2, 3]
    rollback(b, state)
    assert (shown(a), shown(b)) == ("a 3", "b 2")
    assert (purge(a, state), purge(b, state)) == ([], [3])


def test_moved_together(tmp_path: Path) -> None:
    """Published folder and state may be moved: the link and the notes are relative."""
    here = tmp_path / "here"
    here.mkdir()
    for text in ("first", "second"):
        publish_text(here / "out", here / "state", text)
    there = here.rename(tmp_path / "there")
    assert shown(there / "out") == "second"
    assert rollback(there / "out", there / "state").number == 1
    assert shown(there / "out") == "first"


def test_results_of_plain_runs_are_taken_over(place: tuple[Path, Path]) -> None:
    out, state = place
    for radio in ("one", "two"):
        with new_folder(out / radio) as making:
            write_radio(making, "plain")
    with new_folder(out / "groups" / "one") as making:
        write_radio(making, "groups")
    (out / ".making-one").mkdir()  # a killed plain run
    (out / "groups" / "one").rename(out / "groups" / ".making-old-one")  # one that was killed between two renames
    (out / ".pruner").mkdir()  # the lock of the short form
    (out / ".pruner" / "lock").touch()
    out.chmod(0o751)
    publish_text(out, state, "new")
    assert out.stat().st_mode & 0o777 == 0o751
    assert shown(out) == "new"
    assert rollback(out, state).number == 1
    assert shown(out) == "plain"
    assert (out / "groups/one/contacts.csv").read_text() == "groups"
    assert versions(out, state)[0].radios == ("groups/one", "one", "two")
    assert names(out.parent) == {"out"}
    assert names(out) == {".versions", ".pruner", "current", "one", "two", "groups"}


@pytest.mark.parametrize("exchange", [True, False])
def test_taken_over_across_file_systems(place: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, exchange: bool) -> None:
    """Where hard links cannot be made files are copied; where folders cannot be exchanged two renames do it."""
    out, state = place
    for radio in ("one", "two"):
        with new_folder(out / radio) as making:
            write_radio(making, "plain")

    def other_device(*_: object) -> None:
        raise OSError(errno.EXDEV, os.strerror(errno.EXDEV))

    monkeypatch.setattr(os, "link", other_device)
    if not exchange:
        monkeypatch.setattr(publish, "_exchange", lambda *_: False)
    publish_text(out, state, "new")
    assert shown(out) == "new"
    rollback(out, state)
    assert shown(out) == "plain"
    assert names(out) == {".versions", "current", "one", "two"}


def old_release(out: Path, state: Path, *texts: str) -> None:
    """What release 0.1.0 left: versions below the state and a link to the last one (fixtures/releases holds a real one)."""
    for number, text in enumerate(texts, 1):
        version = state / "versions" / str(number)
        version.mkdir(parents=True)
        for radio in ("one", "two"):
            write_radio(version / radio, text)
        note = {"number": number, "made_at": f"2026-11-0{number}T00:00:00+00:00", "folder": os.path.relpath(out, state)}
        note |= {"radios": ["one", "two"], "details": {"kept": {"one": number}}, "published": True}
        (state / "versions" / f"{number}.json").write_text(json.dumps(note))
    (state / "versions" / "last-number").write_text(f"{len(texts) + 1}\n")
    out.unlink(missing_ok=True)
    out.symlink_to(f"{state.name}/versions/{len(texts)}")


@pytest.mark.parametrize("how", ["exchange", "two renames", "copies"])
def test_versions_of_an_earlier_release_are_taken_over(
    place: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    out, state = place
    old_release(out, state, "first", "second", "third")
    (state / "heard").mkdir()
    if how == "two renames":
        monkeypatch.setattr(publish, "_exchange", lambda *_: False)
    if how == "copies":
        monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(OSError(errno.EXDEV, "other device")))
    before = [(one.number, one.made_at, one.current, one.details) for one in versions(out, state)]
    assert [one[0] for one in before] == [1, 2, 3]
    assert rollback(out, state).number == 2
    assert shown(out) == "second"
    assert rollback(out, state, 3).number == 3
    assert [(one.number, one.made_at, one.current, one.details) for one in versions(out, state)] == before
    publish_text(out, state, "new")
    assert versions(out, state)[-1].number == 5  # goes on from the last number that was given
    assert not out.is_symlink()
    assert names(state) == {"heard"}
    assert names(out.parent) == {"out", ".pruner"}


def test_versions_of_an_earlier_release_whose_link_is_gone(place: tuple[Path, Path]) -> None:
    out, state = place
    old_release(out, state, "first", "second")
    out.unlink()
    publish_text(out, state, "new")
    assert numbers(state) == [1, 2, 4]
    assert rollback(out, state).number == 2
    assert shown(out) == "second"


def test_versions_of_an_earlier_release_for_other_folders_stay_where_they_are(tmp_path: Path) -> None:
    out, other, state = tmp_path / "out", tmp_path / "other", tmp_path / "state"
    old_release(other, state, "first", "second")
    publish_text(out, state, "new")
    assert (shown(other), shown(out)) == ("second", "new")
    assert elsewhere(state) == [(1, other), (2, other)]
    assert purge(out, state) == []
    assert elsewhere(state) == [(2, other)]
    other.unlink()
    purge(out, state)
    assert elsewhere(state) == []


def test_files_of_the_user_stay(place: tuple[Path, Path]) -> None:
    out, state = place
    with new_folder(out / "one") as making:
        write_radio(making, "plain")
    shutil.copytree(out / "one", out / "one before the trip")
    (out / "letters.txt").write_text("mine")
    (out / "holiday").mkdir()
    (out / "holiday" / "photo.jpg").write_text("mine")
    for count in range(6):
        publish_text(out, state, f"text {count}", keep=1)
        (out / f"page {count}.html").write_text("mine")
    rollback(out, state, 1) if 1 in numbers(state) else purge(out, state)
    assert (out / "letters.txt").read_text() == (out / "holiday" / "photo.jpg").read_text() == "mine"
    assert (out / "one before the trip" / "contacts.csv").read_text() == "plain"
    assert len(list(out.glob("page *.html"))) == 6


def test_files_of_the_user_inside_a_version_are_brought_beside_the_results(place: tuple[Path, Path]) -> None:
    out, state = place
    publish_text(out, state, "first")
    for name in ("one/letters.txt", "groups/one/letters.txt", "groups/notes.txt", "current/letters.txt"):
        (out / name).write_text(name)
    (out / "one" / ".DS_Store").touch()  # of a file manager
    publish_text(out, state, "first")
    assert numbers(state) == [1]
    (out / "one/letters.txt").write_text("once more")
    publish_text(out, state, "second", keep=1)
    assert {path.name: path.read_text() for path in out.glob("*.txt")} == {
        "one-letters.txt": "one/letters.txt",
        "groups-one-letters.txt": "groups/one/letters.txt",
        "groups-notes.txt": "groups/notes.txt",
        "letters.txt": "current/letters.txt",
        "version-1-one-letters.txt": "once more",
    }
    assert numbers(state) == [2]


def test_files_of_the_user_in_what_an_earlier_release_published_stay(place: tuple[Path, Path]) -> None:
    out, state = place
    old_release(out, state, "first", "second")
    (out / "letters.txt").write_text("mine")
    (state / "versions/1/letters.txt").write_text("mine, of last week")
    (out / "holiday").mkdir()
    (out / "holiday" / "photo.jpg").write_text("mine")
    (out / "one" / "letters.txt").write_text("mine as well")
    publish_text(out, state, "new", keep=1)
    assert names(out) == {".versions", "current", "one", "two", "groups"} | {
        *("letters.txt", "version-1-letters.txt", "holiday", "one-letters.txt")
    }
    assert (out / "letters.txt").read_text() == (out / "holiday" / "photo.jpg").read_text() == "mine"


def test_a_result_that_a_version_lacks_has_no_link(place: tuple[Path, Path]) -> None:
    out, state = place
    publish_text(out, state, "both")
    with new_version(out, state) as making:
        write_radio(making / "one", "alone")
    assert names(out) == {".versions", "current", "one"}
    rollback(out, state)
    assert shown(out) == "both"


@pytest.mark.parametrize(
    "foreign",
    ["one/deep/letters.txt", "one/letters.txt", "groups/letters.txt", "two", "current", ".versions", "current/letters.txt"],
)
def test_what_stands_in_the_way_is_refused_before_any_work(place: tuple[Path, Path], foreign: str) -> None:
    out, state = place
    with new_folder(out / "one") as making:
        write_radio(making, "plain")
    (out / foreign).parent.mkdir(parents=True, exist_ok=True)
    (out / foreign).write_text("mine")
    with pytest.raises(SettingsError, match="move it away"), new_version(out, state, 4, names=("one", "two", "groups")):
        pytest.fail("work began")
    assert (out / foreign).read_text() == "mine"
    assert (out / "one" / "contacts.csv").read_text() == "plain"
    assert names(out.parent) == {"out"}


def test_nothing_is_written_into_a_version(place: tuple[Path, Path]) -> None:
    out, state = place
    publish_text(out, state, "good")
    for target in (out / "one", out / "current" / "three", out / ".versions" / "1"):
        with pytest.raises(SettingsError, match="part of a published version"), new_folder(target):
            pytest.fail("work began")
    assert shown(out) == "good"
    shutil.rmtree(out / ".versions")
    (out / "current").unlink()
    with new_folder(out / "one") as making:  # the link leads nowhere any more
        write_radio(making, "plain")
    assert (out / "one" / "contacts.csv").read_text() == "plain"
    assert not (out / "one").is_symlink()


def test_a_file_in_place_of_the_folder_is_refused(place: tuple[Path, Path]) -> None:
    out, state = place
    out.write_text("mine")
    with pytest.raises(SettingsError, match="is a file"):
        publish_text(out, state, "new")
    assert out.read_text() == "mine"


@pytest.mark.parametrize("inside", ["out/.pruner", "out/one/state"])
def test_a_state_inside_the_output_is_refused(tmp_path: Path, inside: str) -> None:
    with pytest.raises(SettingsError, match="lies inside the output folder"):
        publish_text(tmp_path / "out", tmp_path / inside, "new")


def test_a_link_of_the_user_stays(tmp_path: Path) -> None:
    """The user's link to another disk stays; there the link to the version stands."""
    (tmp_path / "disk").mkdir()
    (tmp_path / "out").symlink_to("disk/published")
    for text in ("first", "second"):
        publish_text(tmp_path / "out", tmp_path / "state", text)
        assert shown(tmp_path / "out") == text
    assert (tmp_path / "out").readlink() == Path("disk/published")
    assert (tmp_path / "disk/published/current").readlink() == Path(".versions/2")
    assert [version.current for version in versions(tmp_path / "out", tmp_path / "state")] == [False, True]
    shutil.rmtree(tmp_path / "disk")
    with pytest.raises(SettingsError, match="mount the disk"):
        publish_text(tmp_path / "out", tmp_path / "state", "third")


def test_a_link_of_the_user_that_looks_like_ours_stays(tmp_path: Path) -> None:
    (tmp_path / "photos/versions/2024").mkdir(parents=True)
    (tmp_path / "photos/versions/2024/a.jpg").touch()
    (tmp_path / "out").symlink_to("photos/versions/2024")
    publish_text(tmp_path / "out", tmp_path / "state", "new")
    assert shown(tmp_path / "photos/versions/2024") == "new"
    assert (tmp_path / "out").is_symlink()
    assert (tmp_path / "out/a.jpg").is_file()


def test_a_link_to_a_version_that_is_gone_is_ours(place: tuple[Path, Path]) -> None:
    out, state = place
    old_release(out, state, "first")
    shutil.rmtree(state)
    publish_text(out, state, "second")
    assert shown(out) == "second"


@pytest.mark.parametrize("step", ["note", "drop"])
def test_what_fails_after_the_switch_does_not_undo_it(
    place: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    out, state = place
    publish_text(out, state, "first", keep=1)
    real = notes.write_whole

    def no_room(path: Path, text: str) -> None:
        if '"published": true' in text:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(path, text)

    def not_allowed(*_: object) -> None:
        raise OSError(errno.EACCES, os.strerror(errno.EACCES))

    if step == "note":
        monkeypatch.setattr(notes, "write_whole", no_room)
    else:
        monkeypatch.setattr(report_versions, "drop_version", not_allowed)
    publish_text(out, state, "second", keep=1)
    assert shown(out) == "second"
    assert versions(out, state)[-1].current
    monkeypatch.undo()
    publish_text(out, state, "third", keep=1)
    assert numbers(state) == [3]


def test_a_link_to_itself_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "out").symlink_to("out")
    with pytest.raises(SettingsError):
        publish_text(tmp_path / "out", tmp_path / "state", "new")


@pytest.mark.parametrize("damage", ["deeper", "changed", "shorter", "missing", "more", "no summary", "nothing"])
def test_what_reads_back_differently_is_not_published(
    place: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch, damage: str
) -> None:
    out, state = place
    publish_text(out, state, "good")
    real = report_versions.sync_tree

    def failing_disk(making: Path) -> None:
        real(making)
        file = making / "two" / "contacts.csv"
        if damage == "deeper":
            (making / "groups" / "one" / "contacts.csv").write_text("rotten")
        elif damage == "changed":
            file.write_text("rotten")
        elif damage == "shorter":
            file.write_text("")
        elif damage == "missing":
            file.unlink()
        elif damage == "more":
            (making / "two" / "more.csv").touch()
        elif damage == "no summary":
            (making / "two" / "summary.json").unlink()
        else:
            for radio in making.iterdir():
                shutil.rmtree(radio)

    monkeypatch.setattr(report_versions, "sync_tree", failing_disk)
    with pytest.raises(PrunerError):
        publish_text(out, state, "newer!")
    assert shown(out) == "good"
    assert numbers(state) == [1]


def test_a_damaged_version_is_no_way_back(place: tuple[Path, Path]) -> None:
    out, state = place
    publish_text(out, state, "first")
    publish_text(out, state, "second")
    (out / ".versions/1/two/contacts.csv").write_text("fir$t")
    with pytest.raises(PrunerError, match="read back differently"):
        rollback(out, state)
    assert shown(out) == "second"


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"number": 2}, "number: expected 1, found 2"),
        ({"radios": "one"}, "radios: expected a list, found a text"),
        ({"details": {"kept": {"one": "many"}}}, "details.kept: expected a whole number, found a text"),
        ({"published": None}, "published: expected true or false, found nothing"),
        (None, "expected JSON"),
    ],
)
def test_a_damaged_note_is_passed_over_and_said(place: tuple[Path, Path], change: dict | None, reason: str) -> None:
    out, state = place
    publish_text(out, state, "first")
    publish_text(out, state, "second")
    publish_text(out, state, "third")
    (out / ".versions" / "accounts.json").write_text("{}")  # no note: its name is no number
    assert damaged(out, state) == []
    note = out / ".versions" / "1.json"
    content = note.read_text()
    note.write_text(content[:-20] if change is None else json.dumps({**json.loads(content), **change}))
    [line] = damaged(out, state)
    assert line.startswith(f"{note}: the note of a version is damaged ({reason}")
    assert numbers(state) == [2, 3]
    assert rollback(out, state).number == 2
    publish_text(out, state, "fourth")
    assert (numbers(state), shown(out)) == ([2, 3, 4], "fourth")


@pytest.mark.parametrize(
    ("error", "named"),
    [
        (OSError("No space left on device (os error 28)"), "out"),
        (OSError(errno.EROFS, "Read-only file system", "out", None, "/elsewhere/.out.following"), ".out.following"),
    ],
    ids=["a native writer", "a link"],
)
def test_what_cannot_be_written_is_named(place: tuple[Path, Path], error: OSError, named: str) -> None:
    out, state = place
    publish_text(out, state, "old")
    with pytest.raises(SettingsError) as raised, new_version(out, state):
        raise error
    path, text = str(raised.value).split(": ", 1)
    assert (Path(path).is_absolute(), Path(path).name) == (True, named)
    assert text.startswith("cannot be written (")
    assert shown(out) == "old"


@pytest.mark.long
@pytest.mark.parametrize("stride", [3, pytest.param(1, marks=pytest.mark.slow)])
@pytest.mark.parametrize("exchange", [True, False], ids=["exchange", "two renames"])
@pytest.mark.parametrize("before", ["nothing", "plain", "versions", "old release"])
def test_killed_before_every_change_of_the_disk(tmp_path: Path, before: str, exchange: bool, stride: int) -> None:
    """The process dies by SIGKILL just before its nth change of the disk (slow: for every n): one whole version is there."""
    out, state = tmp_path / "out", tmp_path / "state"
    countdown = 0
    for countdown in range(1, 400, stride):
        shutil.rmtree(state, ignore_errors=True)
        state.mkdir()
        out.unlink() if out.is_symlink() else shutil.rmtree(out, ignore_errors=True)
        if before == "plain":
            for radio in ("one", "two"):
                with new_folder(out / radio) as making:
                    write_radio(making, "old")
            (out / "letters.txt").write_text("mine")
        elif before == "versions":
            for text in ("older", "old"):
                publish_text(out, state, text, keep=2)
        elif before == "old release":
            old_release(out, state, "older", "old")
            (out / "letters.txt").write_text("mine")
        if not _survives(out, state, countdown, exchange=exchange):
            possible = {"new"} if before == "nothing" else {"old", "new"}
            found = seen(out)
            assert found <= possible
            assert len(found) <= 1
            assert found or before == "nothing" or not exchange
            if exchange and before != "nothing":
                assert rolled_back(out, state, tmp_path) in possible | {"older", None}
            publish_text(out, state, "newest", keep=2)
            assert shown(out) == "newest"
            kept = {(version.files / "one" / "contacts.csv").read_text() for version in versions(out, state)}
            assert kept <= {"older", "old", "new", "newest"}
            assert before == "nothing" or kept - {"newest"}, "the last good version is gone"
            assert before not in ("plain", "old release") or (out / "letters.txt").read_text() == "mine"
            assert names(out) - {"letters.txt"} == {".versions", "current", "one", "two", "groups"}
            assert not [name for name in names(out / ".versions") if name.endswith(("ing", "part"))]
            assert names(tmp_path) == {"out", "state"}
            assert names(state) == set()
            continue
        break
    assert countdown > 20
    assert shown(out) == "new"


def seen(out: Path) -> set[str]:
    """The texts that a reader finds; nothing where two renames were cut in between, until the next run ends them."""
    places = [out / radio / "contacts.csv" for radio in ("one", "two")]
    return {place.read_text() for place in places if place.exists()}


def rolled_back(out: Path, state: Path, tmp_path: Path) -> str | None:
    """What a rollback right after the kill publishes, in a copy; None when there is nothing to go back to."""
    copy = tmp_path / "copy"
    copy.mkdir()
    try:
        shutil.copytree(state, copy / "state", symlinks=True) if state.exists() else None
        shutil.copytree(out, copy / "out", symlinks=True) if not out.is_symlink() else (copy / "out").symlink_to(out.readlink())
        try:
            rollback(copy / "out", copy / "state")
        except SettingsError:
            return None
        return shown(copy / "out")
    finally:
        shutil.rmtree(copy)


def _survives(out: Path, state: Path, countdown: int, *, exchange: bool) -> bool:
    """Forks (no new interpreter: a hundred deaths must stay quick) a child that dies at its nth change of the disk."""
    with warnings.catch_warnings(action="ignore"):  # of threads, which do nothing here
        child = os.fork()
    if child == 0:
        try:
            if not exchange:
                publish._exchange = lambda *_: False  # type: ignore[assignment]
            _die_at(countdown)
            publish_text(out, state, "new", keep=2)
            os._exit(0)
        except BaseException:
            os._exit(99)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    assert code in (0, -9)
    return code == 0


def _die_at(countdown: int) -> None:
    left = [countdown]

    def deadly(module: object, name: str) -> None:
        real = getattr(module, name)

        def kill(*arguments: object, **others: object) -> object:
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), 9)
            return real(*arguments, **others)

        setattr(module, name, kill)

    for name in ("rename", "replace", "unlink", "symlink_to", "mkdir", "write_text"):
        deadly(Path, name)
    for module, name in (
        (publish, "_exchange"),
        (shutil, "rmtree"),
        (os, "link"),
        (os, "fsync"),
        (os, "rmdir"),
        (os, "unlink"),
    ):
        deadly(module, name)
