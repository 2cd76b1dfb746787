"""What the commands say of files and usage that are no use: one line a fault on standard error, and status 2."""

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from server.cli import app
from tests.cli.running import PAIR, ROOT

runner = CliRunner()


def refused(*arguments: object) -> str:
    """What the command says on standard error; it ends with status 2 and gives nothing."""
    done = runner.invoke(app, [str(argument) for argument in arguments])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr
    return done.stderr


def files(folder: Path) -> dict[str, Path]:
    """One file of each kind that is no use."""
    contents = {
        "empty": b"",
        "blank": b" \n",
        "latin": b'title = "Caf\xe9"\n',
        "huge": b"#" * 1_000_001,
        "other": b"a = 1\n",
    }
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    return {name: folder / name for name in contents} | {"missing": folder / "missing", "folder": folder}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("missing", "there is no such file"),
        ("folder", "a folder"),
        ("empty", "empty"),
        ("blank", "empty"),
        ("latin", "UTF-8"),
        ("huge", "1000000 bytes"),
    ],
)
@pytest.mark.parametrize("command", ["plan", "serve", "replay"])
def test_a_plan_that_is_no_use(tmp_path: Path, command: str, name: str, said: str) -> None:
    """One sentence that names the file and says what is wrong with it."""
    path = files(tmp_path)[name]
    told = refused(command, path, *([PAIR] if command == "replay" else []))
    assert told.count("\n") == 1
    assert told.startswith(str(path))
    assert said in told


@pytest.mark.parametrize("name", ["stop_groups", "one_stop_group", "starts"])
@pytest.mark.parametrize("command", ["plan", "serve", "replay"])
def test_how_motors_start_and_stop_is_told_fault_by_fault(command: str, name: str) -> None:
    """Every command that reads a plan tells all that is wrong with its starts and stop groups, a line each."""
    path = ROOT / "fixtures/plans/bad" / f"{name}.plan.toml"
    expected = path.with_name(f"{name}.faults.txt").read_text().splitlines()
    told = refused(command, path, *([PAIR] if command == "replay" else [])).splitlines()
    assert [line.removeprefix(f"{path.parent}/") for line in told] == expected


def test_an_endless_file_is_not_read_to_its_end() -> None:
    """A device that never ends is refused like a file that is too long."""
    if not Path("/dev/zero").exists():
        pytest.skip("this system has no endless device")
    assert "1000000 bytes" in refused("plan", "/dev/zero")


def test_every_fault_of_every_plan_is_told(tmp_path: Path) -> None:
    """Whoever corrects the files sees all there is to do."""
    paths = files(tmp_path)
    told = refused("serve", paths["missing"], paths["other"], paths["latin"])
    unsaid = [name for name in ("missing", "other", "latin") if f"{paths[name]}:" not in told]
    assert unsaid == []


def test_one_plan_twice_is_refused(tmp_path: Path) -> None:
    """A copy of a plan would be the same run."""
    copy = tmp_path / "copy.plan.toml"
    copy.write_bytes(PAIR.read_bytes())
    assert "the same plan" in refused("serve", PAIR, copy)


@pytest.mark.parametrize("until", ["yesterday", "2026-03-14", "2026-03-14T25:00:00Z"])
def test_an_until_that_is_no_time(tmp_path: Path, until: str) -> None:
    """Wrong usage of the replay is told like an unusable file."""
    recording = tmp_path / "empty.events.jsonl"
    recording.write_text("")
    assert until in refused("replay", PAIR, recording, "--until", until)


def test_a_port_in_use_is_said_with_what_to_do(tmp_path: Path) -> None:
    """Desks look for the server at its port, so it does not go elsewhere by itself."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        number = other.getsockname()[1]
        told = refused("serve", PAIR, "--data", tmp_path, "--port", number)
        assert told.startswith(f"Port {number} is in use by another program: ")
        assert "--port" in told
        assert "in use" in refused("demo", "--port", number)


def test_an_address_that_is_not_this_computers(tmp_path: Path) -> None:
    """203.0.113.0/24 is for documentation (RFC 5737): no computer has it."""
    assert "--host" in refused("serve", PAIR, "--data", tmp_path, "--port", "0", "--host", "203.0.113.9")


def test_a_folder_that_cannot_hold_the_log(tmp_path: Path) -> None:
    """A file where the folder should be: said before anything is served."""
    (tmp_path / "file").write_text("")
    told = refused("serve", PAIR, "--port", "0", "--data", tmp_path / "file")
    assert told.count("\n") == 1
    assert str(tmp_path / "file") in told


@pytest.mark.parametrize(
    "arguments",
    [
        ["plan"],
        ["replay", PAIR],
        ["nonsense"],
        ["serve", PAIR, "--port", "70000"],
        ["serve", PAIR, "--speed", "2"],
        ["serve", PAIR, PAIR, "--events", PAIR],
        ["demo", "--speed", "0"],
    ],
)
def test_wrong_usage_is_told_on_standard_error(arguments: list[str]) -> None:
    """Status 2, as with a file that is no use."""
    assert "Error" in refused(*arguments)


def test_a_wrong_environment_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A variable is named with what was found in it."""
    monkeypatch.setenv("FESTOON_PORT", "eighty")
    assert "FESTOON_PORT" in refused("serve", PAIR)


@pytest.mark.parametrize("command", ["plan", "replay"])
def test_the_terminal_commands_do_not_load_the_web_server(tmp_path: Path, command: str) -> None:
    """They answer at once: what only the server needs is not imported."""
    (tmp_path / "none.events.jsonl").write_text("")
    arguments = [command, str(PAIR), *([str(tmp_path / "none.events.jsonl")] if command == "replay" else [])]
    script = (
        "import sys; from server.cli import app\n"
        f"try: app({arguments!r})\n"
        "except SystemExit as end: assert not end.code, end.code\n"
        "loaded = {'fastapi', 'starlette', 'uvicorn', 'sqlalchemy', 'websockets'} & set(sys.modules)\n"
        "sys.exit(f'loaded {loaded}' if loaded else 0)\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr


def test_a_schedule_for_people_has_no_codes_and_one_for_programs_has_them() -> None:
    """Warnings are sentences about houses in the terminal; their codes and ids are for programs."""
    import json

    warned = ROOT / "fixtures/plans/warned.plan.toml"
    people, programs = (runner.invoke(app, ["plan", str(warned), *more]) for more in ([], ["--json"]))
    warnings = json.loads(programs.stdout)["warnings"]
    assert {(one["code"], one["station"]) for one in warnings} >= {("no_path", "b"), ("archive_film", None)}
    assert not any(one["code"] in people.stdout for one in warnings)
    assert "House 1 to 2: no path is given" in people.stdout


def test_a_schedule_for_programs_is_one_json_object() -> None:
    """Nothing else is on standard output."""
    import json

    done = runner.invoke(app, ["plan", str(PAIR), "--json"])
    assert (done.exit_code, done.stderr) == (0, "")
    assert json.loads(done.stdout)["format"] == "festoon-schedule/1"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("serve --port 99999", "'--port': found '99999'; accepted is 65535 or less"),
        ("serve --port abc", "'--port': found 'abc'; accepted is a whole number"),
        ("serve --speed 0", "'--speed': found '0'; accepted is 0.1 or more"),
        ("runs --from yesterday", "'--from': 'yesterday' is not a day such as 2026-03-14."),
        ("archive forget --before x", "'--before': 'x' is not a month such as 2026-03."),
        ("pair Ines --role boss", "'--role': 'boss' is not one of 'booth', 'look', 'report'."),
    ],
)
def test_a_wrong_option_is_told_in_plain_words(given: str, said: str) -> None:
    """What was found and what is accepted, in no library's words."""
    assert refused(*given.split()).endswith(f"Invalid value for {said}\n")


@pytest.mark.parametrize(
    ("port", "shown"),
    [("", "''"), ("80\n81", r"'80\n81'"), ("8" * 400, f"'{'8' * 60}…'")],
)
def test_what_was_found_is_quoted_on_one_short_line(port: str, shown: str) -> None:
    """An empty option can be seen, one of two lines stays on one, and a long one is shortened."""
    assert f"found {shown}; accepted is " in refused("serve", "--port", port)
