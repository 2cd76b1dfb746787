"""The files by which systemd starts a server at boot, and backs its log up every night."""

from pathlib import Path
from string import Template
from typing import Final

SERVICE, BACKUP, TIMER = "festoon.service", "festoon-backup.service", "festoon-backup.timer"

_SERVICE: Final = """\
[Unit]
Description=Festoon: watches film prints that run through many projectors
Documentation=file:$readme
After=network-online.target time-sync.target
Wants=network-online.target
StartLimitIntervalSec=0

[Service]
Type=exec
User=festoon
Group=festoon
# Its contacts: serial ports.
SupplementaryGroups=dialout
Environment=FESTOON_DATA=/var/lib/festoon FESTOON_LOG=json
# FESTOON_HOST, FESTOON_PORT, FESTOON_CERTIFICATE, FESTOON_KEY; SHOW: tonight's plans, and --contacts.
EnvironmentFile=-/etc/festoon/festoon.env
ExecStart=$program serve $$SHOW
# A show goes on: whatever ended it, it is there again a second later, with all that was written down.
Restart=always
RestartSec=1
TimeoutStopSec=20
LimitNOFILE=4096
StateDirectory=festoon
StateDirectoryMode=0700
UMask=0077
NoNewPrivileges=yes
PrivateTmp=yes
ProtectSystem=strict
ProtectHome=read-only
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectControlGroups=yes
RestrictSUIDSGID=yes
RestrictNamespaces=yes
LockPersonality=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX AF_NETLINK

[Install]
WantedBy=multi-user.target
"""
_BACKUP: Final = """\
[Unit]
Description=Festoon: a backup of the log, tried by restoring it

[Service]
Type=oneshot
User=festoon
Group=festoon
Environment=FESTOON_DATA=/var/lib/festoon
ExecStart=$program backup --try --keep 30 /var/lib/festoon/backups
# The whole folder: to read a database that is written ahead, SQLite needs a file beside it.
StateDirectory=festoon festoon/backups
StateDirectoryMode=0700
UMask=0077
NoNewPrivileges=yes
PrivateTmp=yes
ProtectSystem=strict
ProtectHome=read-only
"""
_TIMER: Final = """\
[Unit]
Description=Festoon: every morning, when no show runs

[Timer]
OnCalendar=*-*-* 06:00
Persistent=yes

[Install]
WantedBy=timers.target
"""
_FILES: Final = {SERVICE: _SERVICE, BACKUP: _BACKUP, TIMER: _TIMER}
NAMES: Final = tuple(_FILES)


def service_file(name: str, program: Path, readme: Path) -> str:
    """The file of that name, one of `NAMES`, for the `festoon` that is installed as `program`."""
    return Template(_FILES[name]).substitute(program=program, readme=readme)
