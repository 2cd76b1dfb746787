"""TLS with the site's own certificate."""

import ssl
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from server.access.certificates import read_certificate


class CertificateFault(Exception):
    """A certificate that cannot be used: one sentence that says why and what is accepted."""


class SiteCertificate(NamedTuple):
    """What a server speaks TLS with, the names it is for (lower case), until when, and its text (PEM)."""

    context: ssl.SSLContext
    names: list[str]
    until: datetime
    text: str


def site_certificate(certificate: Path, key: Path) -> SiteCertificate:
    """The certificate in a file (PEM, its issuers after it) with the key in another (PEM): TLS 1.2 or later.

    Raises CertificateFault.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2  # the default is whatever OpenSSL was built with
    for path in (certificate, key):
        if not path.is_file():
            raise CertificateFault(f"{path}: there is no such file; accepted is PEM, as festoon certificate makes it")
    try:
        context.load_cert_chain(certificate, key, password=_no_password)
        return SiteCertificate(context, *read_certificate(certificate), certificate.read_text("ascii"))
    except (ssl.SSLError, ValueError) as error:
        why = (getattr(error, "reason", None) or "not PEM").lower().replace("_", " ")
        raise CertificateFault(
            f"{certificate} with {key}: cannot be used ({why}); accepted are a certificate and its own key, both PEM,"
            " the key without a password"
        ) from error
    except OSError as error:
        raise CertificateFault(f"{certificate} or {key}: cannot be read ({error.strerror})") from error


def _no_password() -> str:
    """Keeps OpenSSL from asking at the terminal."""
    return ""
