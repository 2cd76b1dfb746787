"""`festoon archive …`: the archive of many sites, its schema, who may use it, and its own server."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.options import Port, ended_by_signals, faults_told, settings_given
from server.timeline.amounts import amount

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from server.archive.place import ArchiveAddress
    from server.archive.roles import Given, Kind

At = Annotated[
    str | None,
    typer.Option(
        "--archive",
        metavar="ADDRESS",
        help="Its address, or a file that holds it (FESTOON_ARCHIVE).",
        show_default=False,
    ),
]
SiteName = Annotated[str, typer.Argument(metavar="NAME", help="What the archive calls the site.", show_default=False)]
ReaderName = Annotated[
    str, typer.Argument(metavar="NAME", help="What the archive calls the reader.", show_default=False)
]
Url = Annotated[
    str, typer.Argument(metavar="URL", help="Where the site's own server is, for its wall.", show_default=False)
]
Sites = Annotated[
    list[str] | None,
    typer.Option("--site", metavar="NAME", help="A site it reads; again for more (all).", show_default=False),
]
NO_ADDRESS = "Which archive? Give --archive ADDRESS, or set FESTOON_ARCHIVE."

archive = typer.Typer(help="The archive of many sites, on PostgreSQL.", no_args_is_help=True)
site = typer.Typer(help="Sites that send to the archive.", no_args_is_help=True)
reader = typer.Typer(help="Readers of the archive.", no_args_is_help=True)
archive.add_typer(site, name="site")
archive.add_typer(reader, name="reader")


def address_given(at: str | None) -> "ArchiveAddress":
    """The archive that is meant. Raises ArchiveFault and SettingsFault."""
    from server.archive.faults import ArchiveFault
    from server.archive.place import archive_address

    given = at or settings_given(None, None, None).archive
    if given is None:
        raise ArchiveFault(NO_ADDRESS)
    return archive_address(given)


@contextmanager
def _changing(at: str | None) -> Iterator["tuple[Connection, ArchiveAddress]"]:
    """A transaction of whoever looks after the archive; what goes wrong is told, with status 2."""
    from server.archive.faults import ArchiveFault, told_plainly
    from server.archive.versions import check_version

    with faults_told(ArchiveFault):
        address = address_given(at)
        engine = address.engine("archive")
        try:
            with told_plainly(str(address)), engine.begin() as connection:
                check_version(connection)
                yield connection, address
        finally:
            engine.dispose()


@archive.command()
def upgrade(at: At = None) -> None:
    """Make the tables of an archive in an empty database, or take those that are there to this version."""
    import importlib.util

    from server.archive.faults import ArchiveFault, told_plainly
    from server.archive.place import NEEDS
    from server.archive.tables import VERSION

    with faults_told(ArchiveFault):
        if importlib.util.find_spec("alembic") is None:
            raise ArchiveFault(NEEDS)
        from server.archive.schema import upgrade as upgraded

        address = address_given(at)
        engine = address.engine("archive")
        try:
            with told_plainly(str(address)):
                before = upgraded(engine)
        finally:
            engine.dispose()
    typer.echo(f"The archive at {address} is of version {VERSION} now{f', it was {before}' if before else ''}.")


@site.command("add")
def add_site(name: SiteName, url: Url, at: At = None) -> None:
    """Make a site, and say with which address its server forwards."""
    from server.archive import roles

    with _changing(at) as (connection, address):
        given = roles.add_site(connection, name, url)
    _tell_site(name, address, given)


@site.command("address")
def site_address(name: SiteName, url: Url, at: At = None) -> None:
    """Say where a site's own server is now."""
    from server.archive import roles

    with _changing(at) as (connection, _):
        roles.set_url(connection, name, url)
    typer.echo(f"{name} is at {url}.")


@site.command("key")
def site_key(name: SiteName, at: At = None) -> None:
    """Give a site another key; the one before is no good any more."""
    _tell_site(name, *_new_key("site", name, at))


@site.command("retire")
def retire_site(name: SiteName, at: At = None) -> None:
    """Take nothing more from a site; what it sent stays."""
    _retire("site", name, at)


@site.command("list")
def list_sites(at: At = None) -> None:
    """List the sites, and when each was last heard of."""
    from server.archive import roles

    with _changing(at) as (connection, _):
        found = roles.all_sites(connection)
    for one in found:
        heard = "never heard of" if one.heard is None else f"heard of {one.heard:%Y-%m-%d %H:%M:%S %Z}"
        waits = f", {amount(one.waiting, 'event')} waited" if one.waiting else ""
        typer.echo(f"{one.name}  {one.url}  {amount(one.runs, 'run')}  {heard}{waits}{_since(one.retired)}")


@reader.command("add")
def add_reader(name: ReaderName, of: Sites = None, at: At = None) -> None:
    """Make a reader of some sites or of all, and say with which address it reads."""
    from server.archive import roles

    with _changing(at) as (connection, address):
        given = roles.add_reader(connection, name, of or [])
    _tell_reader(name, address, given)


@reader.command("sites")
def reader_sites(name: ReaderName, of: Sites = None, at: At = None) -> None:
    """Give a reader these sites in place of those before; all without --site."""
    from server.archive import roles

    with _changing(at) as (connection, _):
        roles.set_sites(connection, name, of or [])
    typer.echo(f"{name} reads {', '.join(of) if of else 'every site'}.")


@reader.command("key")
def reader_key(name: ReaderName, at: At = None) -> None:
    """Give a reader another key; the one before is no good any more."""
    _tell_reader(name, *_new_key("reader", name, at))


@reader.command("retire")
def retire_reader(name: ReaderName, at: At = None) -> None:
    """Let a reader in no more."""
    _retire("reader", name, at)


@reader.command("list")
def list_readers(at: At = None) -> None:
    """List the readers, and what each reads."""
    from server.archive import roles

    with _changing(at) as (connection, _):
        found = roles.all_readers(connection)
    for one in found:
        reads = "every site" if one.sites is None else ", ".join(one.sites) or "no site"
        typer.echo(f"{one.name}  {reads}{_since(one.retired)}")


def _new_key(kind: "Kind", name: str, at: str | None) -> "tuple[ArchiveAddress, Given]":
    from server.archive import roles

    with _changing(at) as (connection, address):
        return address, roles.new_key(connection, kind, name)


def _retire(kind: "Kind", name: str, at: str | None) -> None:
    from server.archive import roles

    with _changing(at) as (connection, _):
        roles.retire(connection, kind, name)
    typer.echo(f"{name} is let in no more; `festoon archive {kind} key {name}` lets it in again.")


def _since(retired: object) -> str:
    return "  retired" if retired else ""


def _tell_site(name: str, address: "ArchiveAddress", given: "Given") -> None:
    typer.echo(
        f"{name}: its server forwards with this address, which is shown this once:\n"
        f"  {address.signed(*given)}\n"
        "Keep it in a file that only that server's user may read, and set FESTOON_ARCHIVE to the file."
    )


def _tell_reader(name: str, address: "ArchiveAddress", given: "Given") -> None:
    typer.echo(
        f"{name}: it reads with this address, which is shown this once:\n"
        f"  {address.signed(*given)}\n"
        "`festoon archive serve` takes it, or a file that holds it."
    )


@archive.command()
def serve(
    address: Annotated[
        str | None,
        typer.Argument(metavar="ADDRESS", help="A reader's address, or a file with it.", show_default=False),
    ] = None,
    host: Annotated[
        str | None, typer.Option(help="An address of this computer (127.0.0.1).", show_default=False)
    ] = None,
    port: Port = None,
    names: Annotated[
        list[str] | None,
        typer.Option("--name", help="A name that a proxy is asked by; again for more.", show_default=False),
    ] = None,
) -> None:
    """Show all sites: what runs now, the library and the debriefs. It only reads, and asks nobody who they are."""
    from server.archive.faults import ArchiveFault
    from server.archive.serving import serve_archive
    from server.desk.listening import PortFault, open_port

    with faults_told(ArchiveFault, PortFault):
        meant = address_given(address)
        settings = settings_given(host, port, None)
        with ended_by_signals(), open_port(settings.host, settings.port) as listening:
            serve_archive(meant, listening, names or [], typer.echo)


@archive.command()
def remove(
    name: SiteName,
    run: Annotated[str, typer.Argument(metavar="RUN", help="A run of that site.", show_default=False)],
    yes: Annotated[bool, typer.Option("--yes", help="Delete it for good.")] = False,
    at: At = None,
) -> None:
    """Delete a run of a site from the archive, for good; the site's own log keeps it, and does not send it again."""
    from server.archive.keeping import let_go

    if not yes:
        raise typer.BadParameter("a run is removed for good: say --yes", param_hint="--yes")
    with _changing(at) as (connection, _):
        gone = let_go(connection, name, run)
    typer.echo(f"{name}: {run} is removed, with its {amount(gone.events, 'event')}.")


@archive.command()
def forget(
    before: Annotated[
        datetime, typer.Option("--before", formats=["%Y-%m"], help="The first month that stays.", show_default=False)
    ],
    yes: Annotated[bool, typer.Option("--yes", help="Delete them for good.")] = False,
    at: At = None,
) -> None:
    """Delete all runs that sites wrote down before a month from the archive, for good."""
    from server.archive.keeping import let_go_before, would_go

    with _changing(at) as (connection, _):
        if not yes:
            there = would_go(connection, before.date())
            said = f"{amount(there.runs, 'run')} with {amount(there.events, 'event')} would go for good: say --yes"
            raise typer.BadParameter(said, param_hint="--yes")
        gone = let_go_before(connection, before.date())
    said = f"{amount(gone.runs, 'run')} with {amount(gone.events, 'event')}"
    typer.echo(f"{said} {'is' if gone.runs == 1 else 'are'} gone, all of before {before:%Y-%m}.")


@archive.command()
def export(
    name: SiteName,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file.", show_default=False)],
    at: At = None,
) -> None:
    """Write all runs of a site as a backup, of which `festoon restore` makes a log."""
    from server.archive.keeping import export_site
    from server.runlog import RunLogFault

    with faults_told(RunLogFault), _changing(at) as (connection, _):
        copied = export_site(connection, name, file)
    typer.echo(f"{file}: {amount(copied.runs, 'run')} with {amount(copied.events, 'event')}.")
