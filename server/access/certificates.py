"""Makes a certificate for this site, and reads the names in one."""

import hashlib
import ipaddress
import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from ipaddress import IPv4Address, IPv6Address
from pathlib import Path
from typing import NamedTuple

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from server.access.keys import write_private

LIFE = timedelta(days=730)
"""Chosen. Apple's systems accept at most 825 days of a certificate that was made outside public issuers (from memory:
"Requirements for trusted certificates in iOS 13 and macOS 10.15")."""

BACKDATED = timedelta(days=1)
"""A tablet's clock may be behind. Chosen."""

FILES = ("festoon.crt", "festoon-key.pem", "festoon-issuer.crt")
_DNS_NAME = re.compile(r"(?=.{1,253}\Z)[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*")


class MakingFault(Exception):
    """A certificate that cannot be made: one sentence that says why and what is accepted."""


class Made(NamedTuple):
    """The files that were written, the names in them, the SHA-256 fingerprints of both, and the last day."""

    certificate: Path
    key: Path
    issuer: Path
    names: list[str]
    fingerprint: str
    issuer_fingerprint: str
    until: datetime


def make_certificate(folder: Path, names: Sequence[str], now: datetime) -> Made:
    """Write a certificate for names and addresses, its key, and the issuer that tablets may be told to trust.

    The issuer is good for these names alone (RFC 5280, 4.2.1.10), and its own key is never written down. So nobody, not
    even who has all files, can make it vouch for anything else. Raises MakingFault.
    """
    subjects = [_general_name(name) for name in dict.fromkeys(name.lower() for name in names)]
    certificate_file, key_file, issuer_file = paths = [folder / name for name in FILES]
    for path in paths:
        if path.exists():
            raise MakingFault(f"{path} is there already: take it away, or give another --folder")
    issuer_key, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    issuer = _issuer(issuer_key, subjects, now)
    certificate = _certificate(key, issuer, issuer_key, subjects, now)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_private(key_file, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
        certificate_file.write_bytes(certificate.public_bytes(Encoding.PEM) + issuer.public_bytes(Encoding.PEM))
        issuer_file.write_bytes(issuer.public_bytes(Encoding.PEM))
    except OSError as error:
        raise MakingFault(f"{folder} cannot be written ({error.strerror}): give another --folder") from error
    return Made(
        certificate=certificate_file,
        key=key_file,
        issuer=issuer_file,
        names=_names_of(certificate),
        fingerprint=fingerprint(certificate),
        issuer_fingerprint=fingerprint(issuer),
        until=certificate.not_valid_after_utc,
    )


def _general_name(name: str) -> x509.DNSName | x509.IPAddress:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        pass
    if not _DNS_NAME.fullmatch(name):
        raise MakingFault(f"--names: found {name!r}; accepted are names such as booth.local, and addresses")
    return x509.DNSName(name)


def _builder(common_name: str, issuer: x509.Name | None, now: datetime) -> x509.CertificateBuilder:
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common_name)])
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer or subject)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(now - BACKDATED + LIFE)
    )


def _issuer(
    key: ec.EllipticCurvePrivateKey, subjects: Sequence[x509.DNSName | x509.IPAddress], now: datetime
) -> x509.Certificate:
    usage = _usage(signs_certificates=True)
    return (
        _builder(f"Festoon issuer {now:%Y-%m-%d}", None, now)
        .public_key(key.public_key())
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(_only_for(subjects), critical=True)
        .sign(key, hashes.SHA256())
    )


def _certificate(
    key: ec.EllipticCurvePrivateKey,
    issuer: x509.Certificate,
    issuer_key: ec.EllipticCurvePrivateKey,
    subjects: Sequence[x509.DNSName | x509.IPAddress],
    now: datetime,
) -> x509.Certificate:
    issuer_id = x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key())
    return (
        _builder("Festoon", issuer.subject, now)
        .public_key(key.public_key())
        .add_extension(x509.SubjectAlternativeName(subjects), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(issuer_id, critical=False)
        .sign(issuer_key, hashes.SHA256())
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _only_for(subjects: Sequence[x509.DNSName | x509.IPAddress]) -> x509.NameConstraints:
    """These names and addresses; of a kind that has none here, nothing at all."""
    names: list[x509.GeneralName] = [subject for subject in subjects if isinstance(subject, x509.DNSName)]
    addresses = [subject.value for subject in subjects if isinstance(subject, x509.IPAddress)]
    alone = [ipaddress.ip_network(value) for value in addresses if isinstance(value, IPv4Address | IPv6Address)]
    excluded: list[x509.GeneralName] = [] if names else [x509.DNSName("")]
    excluded += [] if alone else [x509.IPAddress(ipaddress.ip_network(every)) for every in ("0.0.0.0/0", "::/0")]
    return x509.NameConstraints([*names, *map(x509.IPAddress, alone)], excluded or None)


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256, as browsers show it."""
    digest = hashlib.sha256(certificate.public_bytes(Encoding.DER)).hexdigest().upper()
    return ":".join(re.findall("..", digest))


class Read(NamedTuple):
    """The names and addresses that a certificate is for, lower case, and until when."""

    names: list[str]
    until: datetime


def read_certificate(path: Path) -> Read:
    """Read a certificate (PEM, the first in its file). Raises ValueError."""
    certificate = x509.load_pem_x509_certificate(path.read_bytes())
    return Read(_names_of(certificate), certificate.not_valid_after_utc)


def _names_of(certificate: x509.Certificate) -> list[str]:
    try:
        found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        return []
    names = found.get_values_for_type(x509.DNSName)
    return [str(name).lower() for name in [*names, *found.get_values_for_type(x509.IPAddress)]]
