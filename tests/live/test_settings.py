"""What the environment may say."""

import pytest

from server.settings import Settings, SettingsFault, data_folder, settings_from_environment


def test_every_variable_is_read() -> None:
    """Each variable named in the settings' docstring sets its own field."""
    environment = {"FESTOON_DATA": "/var/lib/festoon", "FESTOON_HOST": "0.0.0.0", "FESTOON_PORT": "80"}
    environment |= {
        "FESTOON_CERTIFICATE": "site.pem",
        "FESTOON_KEY": "key.pem",
        "FESTOON_LOG": "json",
        "FESTOON_ARCHIVE": "a",
    }
    expected = Settings("/var/lib/festoon", "0.0.0.0", 80, "site.pem", "key.pem", "json", "a")
    assert settings_from_environment(environment) == expected


def test_absent_and_empty_are_the_default() -> None:
    """Without variables desks connect on this computer only, and data is kept with the user's program state."""
    expected = Settings("/home/x/state/festoon", "127.0.0.1", 8440)
    assert settings_from_environment({"XDG_STATE_HOME": "/home/x/state", "FESTOON_PORT": ""}) == expected


def test_the_address_of_a_database_is_no_folder() -> None:
    """A show's log is on its own computer; whoever gives an address is told so, and its password is not repeated."""
    with pytest.raises(SettingsFault, match=r"FESTOON_DATA: found .*\(postgresql\); accepted is a folder") as told:
        settings_from_environment({"FESTOON_DATA": "postgresql://ida:secret@db/festoon"})
    assert "secret" not in str(told.value)
    assert data_folder("/var/lib/festoon", "--data") == "/var/lib/festoon"


@pytest.mark.parametrize("port", ["-1", "65536", "http", "8.5", "٨"])
def test_a_port_that_is_none_is_told_by_name(port: str) -> None:
    """A port that cannot be is refused with the variable, what was found and what is accepted."""
    with pytest.raises(SettingsFault, match=f"FESTOON_PORT: found '{port}'; accepted is .* 65535"):
        settings_from_environment({"FESTOON_PORT": port})


def test_a_kind_of_log_that_is_none_is_told_by_name() -> None:
    """As a port is."""
    with pytest.raises(SettingsFault, match="FESTOON_LOG: found 'xml'; accepted are text and json"):
        settings_from_environment({"FESTOON_LOG": "xml"})
