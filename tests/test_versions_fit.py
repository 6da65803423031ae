"""A plain fit where versions are published makes a version too, and never writes into one."""

from __future__ import annotations

from pathlib import Path

import pytest
from demo_worlds import demo_without_logs, folded_demo

from pruner.job import run
from pruner.job.run import run_into
from pruner.publish.versions import new_version, rollback, versions
from pruner.settings.load import load_settings
from pruner.words.errors import SettingsError


def everything(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(radio.parent)): path.read_bytes()
        for radio in sorted(folder.iterdir())
        if radio.name not in (".versions", "current")
        for path in sorted([*radio.glob("*"), *radio.glob("*/*")])
        if path.is_file()
    }


def test_a_plain_fit_of_a_published_folder_is_a_new_version(tmp_path: Path) -> None:
    demo = folded_demo(tmp_path / "demo")
    settings = load_settings(demo)
    folder, state = settings.output.folder, settings.output.state
    run(settings)
    assert not folder.is_symlink()
    plain = everything(folder)
    with new_version(folder, state) as making:
        run_into(settings, making)
    assert [version.number for version in versions(folder, state)] == [1, 2]
    made = everything(folder)
    talkgroups = {name for name in made if name.startswith("talkgroups/")}  # in every version; `pruner talkgroups` otherwise
    assert "talkgroups/loan-handheld/talkgroups.csv" in talkgroups
    # The same bytes, whichever way they are made.
    assert {name: content for name, content in made.items() if name not in talkgroups} == plain

    demo.write_text(demo.read_text(encoding="utf-8").replace("200_000", "77"), encoding="utf-8")
    result = run(load_settings(demo))
    assert (folder / "current").is_symlink()
    assert result.folders == [folder / "loan-handheld"]
    assert everything(folder).keys() == made.keys()
    assert everything(folder) != made
    assert [version.current for version in versions(folder, state)] == [False, False, True]
    rollback(folder, state)
    assert everything(folder) == made


def test_a_state_inside_a_published_folder_leaves_it_alone(tmp_path: Path) -> None:
    settings = load_settings(demo_without_logs(tmp_path / "demo"))
    with new_version(settings.output.folder, settings.output.state) as making:
        run_into(settings, making)
    before = everything(settings.output.folder)
    inside = settings.output.model_copy(update={"state": settings.output.folder / ".pruner"})
    with pytest.raises(SettingsError, match="lies inside the output folder"):
        run(settings.model_copy(update={"output": inside}))
    assert everything(settings.output.folder) == before
