"""The text of a systemd service and timer, and of a crontab line, that refresh at regular times, or fetch heard logs often.

Receives what to run and when, hands on text; needs no running systemd. Directives and quoting as in the manual pages
systemd.service, systemd.exec, systemd.timer, systemd.syntax (release 252) and crontab(5).
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from pruner.words.errors import SettingsError

Every = Literal["day", "week", "month"]
#: Under MemoryDenyWriteExecute polars cannot be imported without this (its processor check makes memory executable).
ENVIRONMENT: Final = {"POLARS_SKIP_CPU_CHECK": "1", "PYTHONDONTWRITEBYTECODE": "1"}
_CALENDAR: Final = {"day": "*-*-*", "week": "Mon *-*-*", "month": "*-*-01"}
_CRON: Final = {"day": "* * *", "week": "* * 1", "month": "1 * *"}


@dataclass(frozen=True, slots=True)
class Plan:
    """What runs when.

    `folder` to run in, `state` of the tool, `writable` folders, whether the run needs a `network`; `user` for a service of
    the whole system, None for a service of the user who is logged in. `minutes`: it runs again so many minutes later, whatever
    the time of day (0: at `hour` and `minute`); such a run is a light one.
    """

    name: str
    command: tuple[str, ...]
    folder: Path
    every: Every
    hour: int
    minute: int
    state: Path
    writable: tuple[Path, ...]
    network: bool
    user: str | None = None
    minutes: int = 0


def time_of_day(text: str) -> tuple[int, int]:
    """Hour and minute of "04:30". Raises SettingsError for anything else."""
    found = re.fullmatch(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", text, re.ASCII)
    if not found:
        raise SettingsError(f"--at: expected a time of day such as 04:30, got {text[:20]!r}")
    return int(found[1]), int(found[2])


def calendar(plan: Plan) -> str:
    """The times as a calendar event of systemd.time(7): weekly means Monday, monthly the first."""
    return f"{_CALENDAR[plan.every]} {plan.hour:02}:{plan.minute:02}:00"


def timer(plan: Plan) -> str:
    """The timer. A run that was missed while the machine was off is made up for; runs spread over half an hour."""
    if plan.minutes:
        return f"""\
[Unit]
Description=When to fetch heard logs of digital-voice stations

[Timer]
OnBootSec=2min
OnUnitActiveSec={plan.minutes}min
AccuracySec=10s

[Install]
WantedBy=timers.target
"""
    return f"""\
[Unit]
Description=When to refresh the contact files of digital-voice radios

[Timer]
OnCalendar={calendar(plan)}
Persistent=true
RandomizedDelaySec=30min
AccuracySec=1min

[Install]
WantedBy=timers.target
"""


def service(plan: Plan) -> str:
    """The service: one run, with an end, little memory and few rights.

    For a single user's manager (`user` None) only what needs no further rights of the manager itself is restricted.
    """
    whole_system = plan.user is not None
    parts = [_LIGHT_UNIT if plan.minutes else _UNIT]
    if whole_system and plan.network:
        parts.append("Wants=network-online.target\nAfter=network-online.target\n")
    program, *arguments = (_quoted(word) for word in plan.command)
    command = " ".join([program, *(argument.replace("$", "$$") for argument in arguments)])
    parts.append(f"\n[Service]\nType=oneshot\nExecStart={command}\nWorkingDirectory={_escaped(str(plan.folder))}\n")
    parts += [f"Environment={name}={value}\n" for name, value in ENVIRONMENT.items()]
    parts.append(f"Environment={_quoted(f'TMPDIR={plan.state}')}\n")  # so that the file of a crash can be found
    parts.append(_LIGHT_RUN if plan.minutes else _RUN)
    parts.append(_RUN_OF_ANY)
    parts.append(_RIGHTS)
    families = "AF_UNIX AF_INET AF_INET6" if plan.network else "AF_UNIX"
    parts.append(f"RestrictAddressFamilies={families}\n")
    if whole_system:
        parts.append(f"\nUser={plan.user}\n{_RIGHTS_OF_A_SYSTEM_SERVICE}")
        parts.append(
            "SocketBindDeny=any\nIPAddressDeny=multicast\n" if plan.network else "PrivateNetwork=yes\nIPAddressDeny=any\n"
        )
        parts += [f"ReadWritePaths={_quoted(str(path))}\n" for path in plan.writable]
    return "".join(parts)


def cron_line(plan: Plan) -> str:
    """The same as a line for `crontab -e`, silent on success. cron does not make up for missed runs."""
    _refuse_line_breaks((*plan.command, str(plan.folder)))
    words = [shlex.quote(word) for word in plan.command]
    command = f"cd {shlex.quote(str(plan.folder))} && {' '.join(words)}"
    escaped = command.replace("%", r"\%")  # an unescaped one ends the command
    if plan.minutes:
        return f"{_cron_minutes(plan.minutes)} * * * {escaped}\n"
    return f"{plan.minute} {plan.hour} {_CRON[plan.every]} {escaped}\n"


def _cron_minutes(minutes: int) -> str:
    """Minute and hour of crontab(5) for what comes again after so many minutes, or a little sooner: its steps begin anew every
    hour and every day."""
    if minutes < 60:
        return f"*/{max(step for step in range(1, minutes + 1) if 60 % step == 0)} *"
    return f"0 */{max(step for step in range(1, minutes // 60 + 1) if 24 % step == 0)}"


def _quoted(word: str) -> str:
    """A word in quotes, in which no specifier (%) is expanded."""
    return f'"{_escaped(word, quoted=True)}"'


def _escaped(text: str, *, quoted: bool = False) -> str:
    _refuse_line_breaks((text,))
    if not quoted and (text != text.strip() or text.endswith("\\")):
        raise SettingsError(f"{text!r}: a path that ends in white space or a backslash cannot stand in a schedule; rename it")
    text = text.replace("%", "%%")
    return text.replace("\\", "\\\\").replace('"', '\\"') if quoted else text


def _refuse_line_breaks(words: Sequence[str]) -> None:
    for word in words:
        if not word.isprintable():
            raise SettingsError(f"{word!r}: a path with line breaks or control characters cannot stand in a schedule; move it")


_UNIT: Final = """\
[Unit]
Description=Refresh the contact files of digital-voice radios
StartLimitIntervalSec=6h
StartLimitBurst=3
"""

_LIGHT_UNIT: Final = """\
[Unit]
Description=Fetch heard logs of digital-voice stations
"""

_LIGHT_RUN: Final = """\
# What does not pass is tried again by the next run.
TimeoutStartSec=10min
"""

_RUN: Final = """\
TimeoutStartSec=2h
# What may pass by itself (a source out of reach, another run) is tried again; mistakes in the settings are not.
Restart=on-failure
RestartSec=20min
RestartPreventExitStatus=2 3 70 130
"""

_RUN_OF_ANY: Final = """\
Nice=10
IOSchedulingClass=idle
MemoryMax=2G
TasksMax=256
# Names and towns of people. Who else may read the results is said by [output] mode of the settings.
UMask=0077
"""

_RIGHTS: Final = """
NoNewPrivileges=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
"""

_RIGHTS_OF_A_SYSTEM_SERVICE: Final = """\
CapabilityBoundingSet=
AmbientCapabilities=
DevicePolicy=closed
KeyringMode=private
PrivateDevices=yes
PrivateMounts=yes
PrivateTmp=yes
PrivateUsers=yes
ProcSubset=pid
ProtectClock=yes
ProtectControlGroups=yes
ProtectHome=read-only
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
ProtectSystem=strict
RemoveIPC=yes
"""
