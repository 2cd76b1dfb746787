"""`festoon certificate`: a certificate for this site."""

from pathlib import Path
from typing import Annotated

import typer

from server.commands.options import faults_told, settings_given


def certificate(
    names: Annotated[
        list[str] | None,
        typer.Option(
            help="A name or address by which desks reach this computer; again for more. All that are known.",
            show_default=False,
        ),
    ] = None,
    folder: Annotated[
        Path | None, typer.Option(help="Where to write it (the data folder).", show_default=False)
    ] = None,
) -> None:
    """Make a certificate with which desks on other computers connect by TLS."""
    from server.access.certificates import MakingFault, make_certificate
    from server.clock import Clock
    from server.desk.listening import own_names

    with faults_told(MakingFault):
        place = folder or Path(settings_given(None, None, None).data)
        made = make_certificate(place, names or own_names(), Clock().now())
    typer.echo(
        f"Certificate  {made.certificate}\n"
        f"  SHA-256    {made.fingerprint}\n"
        f"Key          {made.key}  (for this user alone: never copy it to a tablet)\n"
        f"Issuer       {made.issuer}\n"
        f"  SHA-256    {made.issuer_fingerprint}\n"
        f"Good for     {', '.join(made.names)}\n"
        f"Until        {made.until:%Y-%m-%d}\n"
        "\n"
        f"1. festoon serve PLAN --host 0.0.0.0 --certificate {made.certificate} --key {made.key}\n"
        "2. Copy the issuer to each tablet and have it trusted there, as a certificate authority. It can vouch for\n"
        "   the names above and for nothing else. Without that the browser warns: compare the first fingerprint above."
    )
