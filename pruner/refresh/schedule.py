"""Regular refreshes: what a schedule needs of the settings, its installation with systemd, and how the last run went.

Receives settings and times, hands on plans, written unit files and the state of things. Texts are made in `units`.
"""

from __future__ import annotations

import datetime
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from pruner.logs.fetch import LastFetch, last_fetch
from pruner.publish.lock import holder_in
from pruner.publish.switch import published_place
from pruner.refresh.outcome import FAILED, OK, LastRun, last_run, moment_text, verdict
from pruner.refresh.units import Every, Plan, service, time_of_day, timer
from pruner.settings.models import Settings
from pruner.words.disk import creating, write_whole
from pruner.words.errors import SettingsError
from pruner.words.nouns import counted
from pruner.words.process import as_it_was

NAME: Final = "pruner-refresh"
#: After this many days without a good run something is wrong, whatever the randomised delay or a holiday did.
_OVERDUE_DAYS: Final = {"day": 3, "week": 15, "month": 63}
#: The same of heard logs, in intervals.
_OVERDUE_INTERVALS: Final = 6
_SYSTEM_UNITS: Final = Path("/etc/systemd/system")
#: Units name no people; whoever looks after the system reads them.
_UNIT_MODE: Final = 0o644
_SYSTEMCTL_SECONDS: Final = 30.0


def plan_for(
    settings: Settings, file: Path, every: Every, at: str, *, name: str = NAME, whole_system: bool | None = None
) -> Plan:
    """What to schedule for a settings file. `whole_system` None: a service of the system for root, else of the user."""
    if not name.replace("-", "").replace("_", "").isalnum() or not name.isascii() or name.startswith("-"):
        raise SettingsError(f"--name: expected letters, digits, dashes and underscores, got {name[:40]!r}")
    hour, minute = time_of_day(at)
    file = file.absolute()
    whole_system = os.geteuid() == 0 if whole_system is None else whole_system
    state = settings.output.state
    places = {state, published_place(settings.output.folder).parent}
    tell = settings.refresh.tell
    if tell.file is not None:
        places.add(tell.file.parent)
    asks = any(source.is_remote for source in settings.sources) or any(heard.is_remote for heard in settings.heard)
    network = asks or any((tell.start, tell.success, tell.failure, tell.command))
    return Plan(
        name=name,
        command=(sys.executable, "-m", "pruner", "refresh", "--quiet", "--settings", str(file)),
        folder=file.parent,
        every=every,
        hour=hour,
        minute=minute,
        state=state,
        writable=tuple(sorted(places)),
        network=network,
        user=_user_name(file.stat().st_uid) if whole_system else None,
    )


def heard_plan_for(settings: Settings, plan: Plan) -> Plan | None:
    """What to schedule beside a plan so that pages of heard logs do not scroll away unseen; None without such addresses."""
    if not any(heard.is_remote for heard in settings.heard):
        return None
    command = (sys.executable, "-m", "pruner", "heard", "fetch", "--quiet", *plan.command[-2:])
    minutes = settings.refresh.heard_interval_minutes
    return replace(plan, name=heard_name(plan.name), command=command, writable=(plan.state,), network=True, minutes=minutes)


def heard_name(name: str) -> str:
    """The name of the units that fetch heard logs, beside those of a name."""
    return f"{name}-heard"


@dataclass(slots=True)
class Installed:
    """Files written, and what is left to do by hand, a sentence each."""

    files: list[Path]
    to_do: list[str] = field(default_factory=list)


def install(plan: Plan, units: Path | None = None) -> Installed:
    """Writes service and timer and starts the timer. Where systemd does not run, says what to do instead."""
    whole_system = plan.user is not None
    folder = units or (_SYSTEM_UNITS if whole_system else _user_units())
    written = Installed([])
    try:
        for path in plan.writable:
            path.mkdir(parents=True, exist_ok=True)  # a folder that is missing would keep the service from starting
        with creating(_UNIT_MODE):
            folder.mkdir(parents=True, exist_ok=True)
            for kind, text in (("service", service(plan)), ("timer", timer(plan))):
                write_whole(folder / f"{plan.name}.{kind}", text)
                written.files.append(folder / f"{plan.name}.{kind}")
    except OSError as error:
        raise SettingsError(
            f"{error.filename or folder}: cannot be written ({error.strerror}); print instead of --install"
        ) from error
    manager = [] if whole_system else ["--user"]
    for action in (["daemon-reload"], ["enable", "--now", f"{plan.name}.timer"]):
        words = ["systemctl", *manager, *action]
        if not _runs(words):
            written.to_do.append(f"systemd could not be asked here; once it runs: {' '.join(words)}")
    if not whole_system and not _lingers():
        written.to_do.append("so that it also runs while you are not logged in: loginctl enable-linger")
    return written


def remove(name: str, *, whole_system: bool, units: Path | None = None) -> list[Path]:
    """Stops a timer and removes its files; returns those that were there."""
    manager = [] if whole_system else ["--user"]
    _runs(["systemctl", *manager, "disable", "--now", f"{name}.timer"])
    folder = units or (_SYSTEM_UNITS if whole_system else _user_units())
    gone = [path for path in (folder / f"{name}.service", folder / f"{name}.timer") if path.exists()]
    try:
        for path in gone:
            path.unlink()
    except OSError as error:
        raise SettingsError(f"{error.filename}: cannot be removed ({error.strerror})") from error
    _runs(["systemctl", *manager, "daemon-reload"])
    return gone


def _user_units() -> Path:
    config = os.environ.get("XDG_CONFIG_HOME", "")
    try:
        return (Path(config) if config.startswith("/") else Path.home() / ".config") / "systemd" / "user"
    except RuntimeError:
        raise SettingsError("schedule: your home folder is not known; print the units instead of --install") from None


def _user_name(number: int) -> str:
    try:
        import pwd

        return pwd.getpwuid(number).pw_name
    except KeyError:  # as in containers; systemd takes the number as well
        return str(number)


def _lingers() -> bool:
    return (Path("/var/lib/systemd/linger") / _user_name(os.geteuid())).exists()


def _runs(words: list[str]) -> bool:
    return _answer(words) is not None


def _answer(words: list[str]) -> str | None:
    if shutil.which(words[0]) is None:
        return None
    try:
        as_it_was()
        done = subprocess.run(words, capture_output=True, text=True, timeout=_SYSTEMCTL_SECONDS, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout if done.returncode == 0 else None


@dataclass(frozen=True, slots=True)
class Status:
    """How the last run went. `sentence` says it, what came of it first; `good` is False when nobody should rely on it;
    `last` is the record of it; `timer` what systemd says, where it runs."""

    good: bool
    sentence: str
    last: LastRun | None
    timer: dict[str, str]


def status(state: Path, every: Every, *, name: str = NAME, now: datetime.datetime | None = None) -> Status:
    """When a refresh ran last, what came of it, and whether one is overdue."""
    now = now or datetime.datetime.now(datetime.UTC)
    last, known = last_run(state), _timer(name)
    if last is None:
        return Status(False, "No refresh has run yet.", None, known)
    when = f"{moment_text(last.started)} on {last.host}"
    if last.what == "running":
        if _is_running(state):
            return Status(True, f"RUNNING: a refresh has been running since {when}.", last, known)
        return Status(False, f"{FAILED}: the refresh of {when} was killed or the machine went down.", last, known)
    if last.exit_code:
        word = verdict(last.what, last.exit_code)
        code = last.exit_code
        return Status(False, f"{word}: the refresh of {when} did not go as it should (exit code {code}).", last, known)
    days = (now - datetime.datetime.fromisoformat(last.ended or last.started)).days
    if days >= _OVERDUE_DAYS[every]:
        late = f"the refresh of {when} went well, but that is {counted(days, 'day')} ago: one every {every} is due"
        return Status(False, f"{FAILED}: {late}.", last, known)
    return Status(True, f"{OK}: the refresh of {when} went well.", last, known)


def heard_status(state: Path, minutes: int, *, now: datetime.datetime | None = None) -> tuple[bool, str, LastFetch | None]:
    """Whether heard logs are fetched every so many minutes as they should be, how that went last in one sentence, and the
    record of it."""
    now = now or datetime.datetime.now(datetime.UTC)
    last = last_fetch(state)
    if last is None:
        return False, "Heard logs have not been fetched yet.", None
    when = moment_text(last.ended)
    if last.exit_code:
        return False, f"{FAILED}: heard logs of {when}: {'; '.join(last.troubles)}", last
    late = (now - datetime.datetime.fromisoformat(last.ended)).total_seconds() / 60
    if late >= max(_OVERDUE_INTERVALS * minutes, 60):
        return False, f"{FAILED}: heard logs were last fetched {when}; every {counted(minutes, 'minute')} is due", last
    return True, f"{OK}: heard logs were fetched {when} ({counted(last.new, 'new call')}).", last


def _is_running(state: Path) -> bool:
    """Whether the process that the lock names is alive."""
    holder = holder_in(state)
    if holder is None:
        return False
    try:
        os.kill(holder.process, 0)
    except PermissionError:
        return True
    except (OSError, OverflowError):
        return False
    return True


def _timer(name: str) -> dict[str, str]:
    for manager in (["--user"], []):
        shown = _answer(
            ["systemctl", *manager, "show", f"{name}.timer", "--property=ActiveState,LastTriggerUSec,NextElapseUSecRealtime"]
        )
        found = dict(line.partition("=")[::2] for line in (shown or "").splitlines())
        if found.get("ActiveState") == "active":
            return found
    return {}
