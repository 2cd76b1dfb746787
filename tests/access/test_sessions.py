"""Tokens, and the key that signs them."""

import os
from pathlib import Path

import pytest

from server.access import KeyFault, Signer, signing_key
from server.access.keys import KEY_BYTES, KEY_FILE
from server.access.sessions import Session
from tests.access.fakes import KEY

SESSION = Session("0011223344556677", "a-secret_of-the-device")


def test_a_token_says_what_was_signed() -> None:
    """With the key that made it."""
    signer = Signer(KEY)
    assert signer.session(signer.token(SESSION)) == SESSION


def test_no_other_token_says_anything() -> None:
    """Any character changed, added or left out, and it is worth nothing."""
    signer = Signer(KEY)
    token = signer.token(SESSION)
    forged = [token[:at] + chr(ord(token[at]) ^ 1) + token[at + 1 :] for at in range(len(token))]
    forged += [token[:-1], token + "0", token[1:], token.upper(), "", ".", "..", "a.b", "é.ü.ß", token + "\n"]
    assert [signer.session(each) for each in forged] == [None] * len(forged)


def test_a_token_of_another_key_says_nothing() -> None:
    """A new key ends every session."""
    assert Signer(bytes(32)).session(Signer(KEY).token(SESSION)) is None


def test_a_key_is_made_once_and_for_this_user_alone(tmp_path: Path) -> None:
    """The same after a restart, readable to nobody else, and another once the file was taken away."""
    key = signing_key(tmp_path / "data")
    file = tmp_path / "data" / KEY_FILE
    assert signing_key(tmp_path / "data") == key == file.read_bytes()
    assert len(key) == KEY_BYTES
    assert os.name != "posix" or file.stat().st_mode & 0o777 == 0o600
    file.unlink()
    assert signing_key(tmp_path / "data") != key


def test_a_key_that_others_may_read_is_not_used(tmp_path: Path) -> None:
    """Who may have read it could sign sessions: it is said, and what to do."""
    signing_key(tmp_path)
    (tmp_path / KEY_FILE).chmod(0o640)
    with pytest.raises(KeyFault, match=r"Others may read .*pair every device again"):
        signing_key(tmp_path)


def test_a_file_that_is_no_key_is_not_used(tmp_path: Path) -> None:
    """An empty or damaged one would sign what anybody can guess."""
    (tmp_path / KEY_FILE).touch(0o600)
    with pytest.raises(KeyFault, match="is not a key"):
        signing_key(tmp_path)


def test_a_key_that_cannot_be_kept_is_told(tmp_path: Path) -> None:
    """One sentence, and no key that is forgotten."""
    (tmp_path / "data").touch()
    with pytest.raises(KeyFault, match=r"cannot be (read|written) \(Not a directory\)"):
        signing_key(tmp_path / "data")
