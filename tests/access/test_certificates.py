"""The certificate that Festoon makes."""

import ipaddress
import os
import socket
import ssl
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID

from server.access.certificates import LIFE, Made, MakingFault, fingerprint, make_certificate, read_certificate
from server.access.keys import write_private

NAMES = ("booth.local", "localhost", "127.0.0.1", "::1")


def made(folder: Path, *names: str) -> Made:
    return make_certificate(folder, names or NAMES, datetime.now(UTC))


def read(path: Path) -> list[x509.Certificate]:
    return x509.load_pem_x509_certificates(path.read_bytes())


def greeted(server: ssl.SSLContext, client: ssl.SSLContext, name: str) -> None:
    """A whole TLS handshake, in memory."""
    near, far = ssl.MemoryBIO(), ssl.MemoryBIO()
    ours = client.wrap_bio(far, near, server_hostname=name)
    theirs = server.wrap_bio(near, far, server_side=True)
    for side in (ours, theirs, ours, theirs):
        try:
            side.do_handshake()
        except ssl.SSLWantReadError:
            continue


def contexts(certificate: Made) -> tuple[ssl.SSLContext, ssl.SSLContext]:
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(certificate.certificate, certificate.key)
    return server, ssl.create_default_context(cafile=certificate.issuer)


@pytest.mark.parametrize("name", NAMES)
def test_who_trusts_the_issuer_trusts_every_name(tmp_path: Path, name: str) -> None:
    """OpenSSL checks the chain, the constraints of the issuer and the name, as a browser does."""
    greeted(*contexts(made(tmp_path)), name)


def test_it_is_for_no_other_name(tmp_path: Path) -> None:
    """Another name is refused by whoever connects."""
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        greeted(*contexts(made(tmp_path)), "bank.example")


def test_the_issuer_vouches_for_nothing_else(tmp_path: Path) -> None:
    """Even its key, which nobody has, could make no certificate of another name that is believed."""
    (issuer,) = read(made(tmp_path).issuer)
    constraints = issuer.extensions.get_extension_for_class(x509.NameConstraints)
    permitted = constraints.value.permitted_subtrees or []
    assert constraints.critical
    assert {str(each.value) for each in permitted} == {"booth.local", "localhost", "127.0.0.1/32", "::1/128"}
    assert issuer.extensions.get_extension_for_class(x509.BasicConstraints).value.path_length == 0
    (only_name,) = read(made(tmp_path / "name", "booth.local").issuer)
    excluded = only_name.extensions.get_extension_for_class(x509.NameConstraints).value.excluded_subtrees or []
    assert {each.value for each in excluded} == {ipaddress.ip_network(each) for each in ("0.0.0.0/0", "::/0")}


def test_only_its_own_key_is_kept_and_for_this_user_alone(tmp_path: Path) -> None:
    """Three files: the certificate with its issuer, the issuer to be copied, and one key, that of the certificate."""
    files = made(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"festoon.crt", "festoon-key.pem", "festoon-issuer.crt"}
    assert [path.read_text().count("PRIVATE KEY") for path in (files.certificate, files.issuer)] == [0, 0]
    assert os.name != "posix" or files.key.stat().st_mode & 0o777 == 0o600
    certificate, issuer = read(files.certificate)
    assert read(files.issuer) == [issuer]
    certificate.verify_directly_issued_by(issuer)
    by_the_library = certificate.fingerprint(hashes.SHA256())
    assert files.fingerprint == fingerprint(certificate) == ":".join(f"{byte:02X}" for byte in by_the_library)


def test_it_is_what_tablets_accept(tmp_path: Path) -> None:
    """At most 825 days, for servers, names as subjectAltName, a key and hash of today (from memory: Apple, iOS 13)."""
    certificate = read(made(tmp_path).certificate)[0]
    assert certificate.not_valid_after_utc - certificate.not_valid_before_utc == LIFE <= timedelta(days=825)
    assert certificate.not_valid_before_utc < datetime.now(UTC)
    usage = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    assert not certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    assert isinstance(certificate.public_key(), ec.EllipticCurvePublicKey)
    assert certificate.signature_hash_algorithm is not None
    assert certificate.signature_hash_algorithm.name == "sha256"


def test_nothing_is_written_over(tmp_path: Path) -> None:
    """A certificate that is in use stays."""
    before = made(tmp_path).key.read_bytes()
    with pytest.raises(MakingFault, match="is there already"):
        made(tmp_path)
    assert (tmp_path / "festoon-key.pem").read_bytes() == before


@pytest.mark.parametrize("name", ["", "two words", "a..b", "-a", "x" * 64, "http://booth", "booth:8440", "büro", "*"])
def test_a_name_that_is_none_is_told(tmp_path: Path, name: str) -> None:
    """Before anything is written."""
    with pytest.raises(MakingFault, match="accepted are names such as"):
        made(tmp_path, "localhost", name)
    assert list(tmp_path.iterdir()) == []


def test_the_names_of_a_certificate_are_read(tmp_path: Path) -> None:
    """Those of the first in its file, however they were written."""
    files = made(tmp_path, "Booth.LOCAL", "127.0.0.1")
    assert read_certificate(files.certificate) == (["booth.local", "127.0.0.1"], files.until)


def test_a_private_file_is_never_open_to_others(tmp_path: Path) -> None:
    """Nor does it take the place of a file that is there."""
    write_private(tmp_path / "key", b"1")
    assert os.name != "posix" or (tmp_path / "key").stat().st_mode & 0o777 == 0o600
    with pytest.raises(FileExistsError):
        write_private(tmp_path / "key", b"2")


def test_this_computers_names_make_a_certificate(tmp_path: Path) -> None:
    """What is known without being told is accepted."""
    from server.desk.listening import own_names

    names = made(tmp_path, *own_names()).names
    assert {socket.gethostname().lower(), "localhost", "127.0.0.1"} <= set(names)
