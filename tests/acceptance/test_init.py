"""The first config: `init` as a photographer meets it, on a terminal and without one."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import SERVICE, Home, Ran, run, sweep
from tests.support.terminal import CTRL_C, CTRL_D, Terminal

NAME, REACH, DROP = "Your name [", "How to reach you [", "Folder ["
NAMED, EDGE, OTHER, WRITE = (
    "Destination [",
    "in pixels [",
    "Another destination [",
    "Write it? ^ goes back, no stops [yes]",
)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a folder to begin in, that is not there yet."""
    return Home(tmp_path / "pictures")


@pytest.fixture
def on_terminal() -> Iterator[Callable[..., Terminal]]:
    """Return what starts a command on a terminal; none outlives the test."""
    started: list[Terminal] = []

    def start(folder: Path, *arguments: str) -> Terminal:
        started.append(Terminal(folder, *arguments))
        return started[-1]

    yield start
    for terminal in started:
        terminal.end()


def init(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run `init` in *folder* without a terminal."""
    return subprocess.run(
        [sys.executable, "-m", "lanternslide", *arguments],
        capture_output=True, text=True, encoding="utf-8", check=False, cwd=folder, stdin=subprocess.DEVNULL,
        env={
            "PYTHONPATH": str(SERVICE), "HOME": str(folder), "PATH": "/usr/bin:/bin",
            "PYTHONIOENCODING": "utf-8:strict",  # as in most people's locales
        },
    )  # fmt: skip


def plain(text: str) -> str:
    """Return *text* with its lines joined."""
    return " ".join(text.split())


def config_of(home: Home) -> dict[str, Any]:
    """Return the config that was written."""
    return tomllib.loads(home.config.read_text("utf-8"))


def everything(folder: Path) -> set[str]:
    """Return all that lies in a folder."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def swept(home: Home) -> Ran:
    """Sweep, and see that all is well."""
    ran = sweep(home)
    assert ran.status == 0, ran.errors
    return ran


# On a terminal


def test_answers_become_folders_and_a_config_that_delivers(home: Home, on_terminal: Callable[..., Terminal]) -> None:
    """Questions answered, wrong answers asked again with the reason; then a picture is dropped and delivered."""
    home.root.mkdir()
    terminal = on_terminal(home.root, "init")
    terminal.answer(NAME, "Ida Marrow")
    terminal.answer(REACH, "ida@skerrow.example")
    terminal.answer(DROP, "out/mine")
    terminal.until("lies inside, or around,")
    terminal.answer(DROP, "")
    terminal.answer(NAMED, "my/site")
    terminal.until("“my/site” cannot be a name here. Allowed: a to z, A to Z, digits, _ and -")
    terminal.answer("Destination [my-site]", "portfolio")
    terminal.answer(EDGE, "large")
    terminal.until("“large” is not a size. Give a whole number of pixels")
    terminal.answer(EDGE, "")
    terminal.answer(OTHER, "Portfolio")
    terminal.until("is on the list already")
    terminal.answer(OTHER, "My club")
    terminal.until("“My club” cannot be a name here, but “my-club” can.")
    terminal.answer(OTHER, "club")
    terminal.answer(EDGE, "1280")
    terminal.answer(OTHER, "no")
    terminal.until("lanternslide.toml will say:")
    terminal.until("Ida Marrow, ida@skerrow.example")
    terminal.until("@club long edge 1280 pixels, into out/ida/club")
    terminal.answer(WRITE, "")

    assert terminal.status() == 0, terminal.output
    assert "lanternslide install --systemd" in terminal.output
    *_, now, then = terminal.output.splitlines()
    assert now == f"Now: copy a picture into {home.drop()} and run: {sys.executable} -m lanternslide sweep"
    assert then == f"Then: look at its web picture in {home.out('ida', 'portfolio')}"
    # A path is printed whole, to be copied.
    lines = [line for line in terminal.output.splitlines() if str(home.root) not in line]
    assert max(map(len, lines)) <= 80
    assert everything(home.root) == {
        "drop", "drop/ida", "out", "proofs", "proofs/ida", "state", "lanternslide.toml",
    }  # fmt: skip
    assert (home.root / "state").stat().st_mode & 0o777 == 0o700
    assert config_of(home)["photographers"]["ida"]["contact"] == "ida@skerrow.example"
    save_jpeg(home.drop() / "grey-seal.jpg", 2000, 1200)
    save_jpeg(home.drop() / "north-stack@club.jpg", 2000, 1200)
    swept(home)
    assert home.delivered().keys() == {"ida/portfolio/grey-seal.jpg", "ida/club/north-stack.jpg"}
    assert size_of(home.out("ida", "portfolio", "grey-seal.jpg")) == (1050, 630)
    assert size_of(home.out("ida", "club", "north-stack.jpg")) == (1280, 768)
    assert b"Ida Marrow" in home.out("ida", "club", "north-stack.jpg").read_bytes()
    assert (home.root / "proofs" / "ida" / "index.html").is_file()


def test_what_a_person_types_is_kept_to_the_letter(home: Home, on_terminal: Callable[..., Terminal]) -> None:
    """Umlauts, quotation marks, backslashes and emoji reach the config and the pictures; a folder may lie elsewhere."""
    home.root.mkdir()
    elsewhere = home.root.parent / 'Ida\'s "best" \\ 🦭'
    terminal = on_terminal(home.root, "init")
    terminal.answer(NAME, '  Zoë "Skerry" O\'Märrow\\🦭 ')
    terminal.answer(REACH, "")
    terminal.answer(DROP, f"'{elsewhere}'")
    terminal.answer(NAMED, "journal")
    terminal.answer(EDGE, "900 px")
    terminal.answer(OTHER, "")
    terminal.answer(WRITE, "")

    assert terminal.status() == 0, terminal.output
    owner = config_of(home)["photographers"]["zoe"]
    assert owner["creator"] == 'Zoë "Skerry" O\'Märrow\\🦭'
    assert owner["copyright"] == '© {year} Zoë "Skerry" O\'Märrow\\🦭'
    assert "contact" not in owner
    assert owner["drop"] == str(elsewhere)
    save_jpeg(elsewhere / "grey-seal.jpg", 2000, 1200)
    swept(home)
    assert 'Zoë "Skerry" O\'Märrow\\🦭'.encode() in home.out("zoe", "journal", "grey-seal.jpg").read_bytes()


def test_bytes_that_are_no_text_are_asked_again(home: Home, on_terminal: Callable[..., Terminal]) -> None:
    """What a terminal with another character set sends is refused with a reason."""
    home.root.mkdir()
    terminal = on_terminal(home.root, "init")
    terminal.answer(NAME, b"Z\xf6e\n")
    terminal.until("Your terminal sent letters that cannot be read.")
    terminal.until(NAME)

    assert terminal.stop(CTRL_C) == 2


@pytest.mark.parametrize("key", [CTRL_C, CTRL_D])
@pytest.mark.parametrize("answered", [0, 2, 4, 6])
def test_stopping_leaves_nothing_behind(
    home: Home, on_terminal: Callable[..., Terminal], key: bytes, answered: int
) -> None:
    """Ctrl-C and Ctrl-D at any question: nothing is there afterwards, not even the folder to begin in."""
    answers = [(NAME, "Juno Pell"), (REACH, ""), (DROP, ""), (NAMED, "journal"), (EDGE, ""), (OTHER, ""), (WRITE, "")]
    terminal = on_terminal(home.root.parent, "init", "pictures")
    for question, answer in answers[:answered]:
        terminal.answer(question, answer)
    terminal.until(answers[answered][0])

    assert terminal.stop(key) == 2
    assert "Stopped; nothing was made." in terminal.output
    assert everything(home.root.parent) == set()


def test_one_can_go_back_and_begin_an_answer_anew(home: Home, on_terminal: Callable[..., Terminal]) -> None:
    """From any question to the one before, to the very first; what was answered is proposed, or taken away."""
    home.root.mkdir()
    terminal = on_terminal(home.root, "init")
    terminal.answer(NAME, "Ida Marow")
    terminal.answer(REACH, "ida@skerrow.example")
    terminal.answer(DROP, "-")
    terminal.until("This needs an answer.")
    terminal.answer(DROP, "back")
    terminal.answer("How to reach you [ida@skerrow.example; - for none]", "^")
    terminal.answer("Your name [Ida Marow; - for none]", "^")  # there is nothing before the first
    terminal.answer("Your name [Ida Marow; - for none]", "Ida Marrow")
    terminal.answer("How to reach you [ida@skerrow.example; - for none]", "-")
    terminal.answer("Folder [drop/ida]", "")
    terminal.answer(NAMED, "jurnal")
    terminal.answer(EDGE, "^")
    terminal.answer("Destination [jurnal]", "journal")
    terminal.answer(EDGE, "1500")
    terminal.answer(OTHER, "club")
    terminal.answer(EDGE, "")
    terminal.answer(OTHER, "")
    terminal.answer(WRITE, "BACK")
    terminal.answer(OTHER, "^")
    terminal.answer("Long edge, in pixels [1600]", "^")
    terminal.answer("Another destination [club; - for no more]", "^")
    terminal.answer("Long edge, in pixels [1500]", "1400")
    terminal.answer("Another destination [club; - for no more]", "")
    terminal.answer("Long edge, in pixels [1600]", "1280")
    terminal.answer(OTHER, "site")
    terminal.answer(EDGE, "^")
    terminal.answer("Another destination [site; - for no more]", "-")
    terminal.answer(WRITE, "perhaps")
    terminal.until("“perhaps” is neither yes nor no.")
    terminal.answer(WRITE, "y")

    assert terminal.status() == 0, terminal.output
    config = config_of(home)
    owner = config["photographers"]["ida"]
    assert (owner["creator"], "contact" in owner, owner["otherwise"]) == ("Ida Marrow", False, ["journal"])
    sizes = {name: found["size"]["long_edge"] for name, found in config["destinations"].items()}
    assert sizes == {"journal": 1400, "club": 1280}


def test_a_no_to_the_summary_writes_nothing(home: Home, on_terminal: Callable[..., Terminal]) -> None:
    """Nothing is there afterwards."""
    terminal = on_terminal(home.root.parent, "init", "pictures")
    for question in (NAME, REACH, DROP, NAMED, EDGE, OTHER):
        terminal.answer(question, "")
    terminal.answer(WRITE, "no")

    assert terminal.status() == 2
    assert "Stopped; nothing was made." in terminal.output
    assert everything(home.root.parent) == set()


def test_a_folder_with_pictures_is_warned_of(home: Home, on_terminal: Callable[..., Terminal]) -> None:
    """When it is named, in the summary, and at the end: how many the first sweep would publish."""
    album = home.root.parent / "album"
    (album / "2025").mkdir(parents=True)
    for path in (album / "a.jpg", album / "b.jpg", album / "2025" / "c.jpg"):
        save_jpeg(path, 90, 60)
    (album / "notes.txt").touch()
    terminal = on_terminal(home.root.parent, "init", "pictures")
    terminal.answer(NAME, "")
    terminal.answer(REACH, "")
    terminal.answer(DROP, str(album))
    terminal.until("This folder holds 3 pictures already. The first `sweep` or `watch` publishes whatever lies in it.")
    terminal.answer(NAMED, "")
    terminal.answer(EDGE, "")
    terminal.answer(OTHER, "")
    terminal.until("This folder holds 3 pictures already.")
    terminal.answer(WRITE, "")
    terminal.until("This folder holds 3 pictures already.")

    assert terminal.status() == 0, terminal.output


@pytest.mark.parametrize(
    ("typed", "why"), [("x" * 300, "can be neither made nor read (File name too long)"), ("file/deep", "is a file")]
)
def test_a_folder_that_cannot_be_made_is_asked_again(
    home: Home, on_terminal: Callable[..., Terminal], typed: str, why: str
) -> None:
    """When it is answered, not after the last question."""
    home.root.mkdir()
    (home.root / "file").touch()
    terminal = on_terminal(home.root, "init")
    terminal.answer(NAME, "")
    terminal.answer(REACH, "")
    terminal.answer(DROP, typed)
    terminal.until(why)
    terminal.until(DROP)

    assert terminal.stop(CTRL_C) == 2


# Without a terminal


def test_yes_takes_what_is_proposed(home: Home) -> None:
    """Without questions: the folders, a config that delivers, and what to do next, with the config named."""
    done = init(home.root.parent, "init", "pictures", "--yes")

    assert (done.returncode, done.stderr) == (0, "")
    assert f"lanternslide --config {home.config} sweep" in done.stdout
    owner = config_of(home)["photographers"]["me"]
    assert owner == {"drop": "drop/me", "otherwise": ["portfolio"], "proofs": "proofs/me"}
    save_jpeg(home.drop("me") / "grey-seal.jpg", 2000, 1200)
    swept(home)
    assert home.delivered().keys() == {"me/portfolio/grey-seal.jpg"}


def test_what_init_names_next_is_what_works(tmp_path: Path) -> None:
    """The command that it prints finds the config, whatever the folder is called and wherever one stands."""
    folder = tmp_path / "Ida's pictures, new"
    done = init(tmp_path, "init", str(folder), "--yes")
    (line,) = (line.partition(" run: ")[2] for line in done.stdout.splitlines() if line.endswith(" sweep"))
    ran = subprocess.run(
        ["sh", "-c", line], cwd="/", env={"PYTHONPATH": str(SERVICE)}, capture_output=True, text=True, check=False
    )

    assert (ran.returncode, plain(ran.stdout)) == (0, "Nothing new was delivered.")


def test_a_folder_whose_name_is_no_text_is_taken(tmp_path: Path) -> None:
    """Bytes of another character set are shown escaped, in the config too, and everything works."""
    folder = tmp_path / os.fsdecode(b"caf\xe9")
    try:
        folder.mkdir()
    except (OSError, UnicodeError) as error:
        pytest.skip(f"this file system takes no such name: {error}")
    done = init(tmp_path, "init", str(folder), "--yes")

    assert (done.returncode, done.stderr) == (0, "")
    assert f"{tmp_path}/caf\\xe9/drop/me" in done.stdout
    home = Home(folder)
    save_jpeg(home.drop("me") / "grey-seal.jpg", 2000, 1200)
    swept(home)
    assert home.delivered().keys() == {"me/portfolio/grey-seal.jpg"}


def test_without_a_terminal_and_without_yes_it_says_so(home: Home) -> None:
    """Nobody can answer: 2, with --yes named, and nothing made."""
    done = init(home.root.parent, "init", "pictures")

    assert done.returncode == 2
    assert "--yes" in done.stderr
    assert everything(home.root.parent) == set()


def lasting(path: Path) -> tuple[int, ...]:
    """Return what the system says of a file or link, but for when it was last looked at."""
    found = path.lstat()
    return found.st_mode, found.st_ino, found.st_nlink, found.st_size, found.st_mtime_ns, found.st_ctime_ns


def test_a_config_that_is_there_stops_it(home: Home) -> None:
    """It is named, nothing is made, and not a byte of it changes; also where the name is a link that leads nowhere."""
    home.root.mkdir()
    for make in (lambda: home.config.write_text("mine"), lambda: home.config.symlink_to("nowhere")):
        home.config.unlink(missing_ok=True)
        make()
        before = lasting(home.config)

        done = init(home.root, "init", "--yes")

        assert done.returncode == 2
        assert f"it stays as it is: {home.config}" in done.stderr
        assert everything(home.root) == {"lanternslide.toml"}
        assert lasting(home.config) == before


def test_folders_that_are_there_are_used_as_they_are(home: Home) -> None:
    """Nothing in them changes, and what lies in the drop folder is counted."""
    for name in ("drop/me", "out/me/portfolio", "proofs/me", "state"):
        (home.root / name).mkdir(parents=True)
    save_jpeg(home.drop("me") / "grey-seal.jpg", 400, 300)
    before = everything(home.root)

    done = init(home.root, "init", "--yes")

    assert done.returncode == 0
    assert everything(home.root) == before | {"lanternslide.toml"}
    assert "1 picture." in plain(done.stdout)


def test_a_file_in_the_way_is_named_and_no_config_is_left(home: Home) -> None:
    """What cannot be made is said, and what was made on the way; a second run goes on from there."""
    home.root.mkdir()
    (home.root / "out").write_text("a file")

    done = init(home.root, "init", "--yes")

    assert done.returncode == 3
    assert f"{home.root / 'out'} cannot be made" in done.stderr
    assert f"Made so far, and left: {home.root / 'drop'}, {home.root / 'drop' / 'me'}." in done.stderr
    assert everything(home.root) == {"drop", "drop/me", "out"}
    (home.root / "out").unlink()
    assert init(home.root, "init", "--yes").returncode == 0


@pytest.mark.parametrize("arguments", [["init", "file"], ["init", "file/below", "--yes"]])
def test_a_folder_that_cannot_be_one_is_refused_first(tmp_path: Path, arguments: list[str]) -> None:
    """A file of that name, or on the way to it: said before anything is asked or made."""
    (tmp_path / "file").touch()

    done = init(tmp_path, *arguments)

    assert done.returncode == 2
    assert f"{tmp_path / 'file'} is a file" in done.stderr
    assert everything(tmp_path) == {"file"}


def test_a_folder_without_the_right_to_write_is_named(home: Home) -> None:
    """Nothing is made, and the reason is given."""
    powerless = ("unshare", "--user")
    if subprocess.run([*powerless, "true"], capture_output=True, check=False).returncode != 0:
        pytest.skip("this machine does not let us give up root's rights with unshare --user")
    home.root.mkdir(mode=0o555)
    done = subprocess.run(
        [*powerless, sys.executable, "-m", "lanternslide", "init", "--yes"],
        cwd=home.root, env={"PYTHONPATH": str(SERVICE)}, capture_output=True, text=True, check=False,
    )  # fmt: skip

    assert done.returncode == 3
    assert f"{home.root / 'drop'} cannot be made (Permission denied)" in done.stderr
    assert "Nothing was made." in done.stderr
    assert everything(home.root) == set()


def test_a_full_disk_leaves_no_config(home: Home) -> None:
    """Folders are made and named; the config, which had no room, is not there, nor any part of it."""
    home.root.mkdir()
    mount = ("unshare", "--mount", "--map-root-user", "sh", "-c")
    # Too few blocks for a file beside the folders; the folders themselves take none on this file system.
    script = (
        'mount -t tmpfs -o size=4k,mode=777 none "$0" && cd "$0" && head -c 4096 /dev/zero > filler && '
        f'{sys.executable} -m lanternslide init --yes; echo "status $?"; find . -type f'
    )
    done = subprocess.run(
        [*mount, script, str(home.root)],
        env={"PYTHONPATH": str(SERVICE), "PATH": "/usr/bin:/bin"}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if "status" not in done.stdout:
        pytest.skip(f"this machine lets nobody mount a file system of their own: {done.stderr}")

    assert done.stdout.splitlines() == ["status 3", "./filler"]
    assert f"{home.config} cannot be made (No space left on device)" in done.stderr
    assert str(home.root / "state") in done.stderr


def test_the_config_option_has_no_place_here(home: Home) -> None:
    """`init` reads no config, so naming one is a mistake that is said."""
    done = init(home.root.parent, "--config", "other.toml", "init", "pictures", "--yes")

    assert done.returncode == 2
    assert "--config" in done.stderr
    assert everything(home.root.parent) == set()


def test_what_init_wrote_is_what_check_and_trace_read(home: Home) -> None:
    """The config loads from elsewhere, and nothing is wrong with it."""
    init(home.root.parent, "init", "pictures", "--yes")
    save_jpeg(home.drop("me") / "grey-seal.jpg", 2000, 1200)

    assert run(home, "check").status == 0
    ran = run(home, "trace", home.drop("me") / "grey-seal.jpg")
    assert ran.status == 0
    assert "portfolio: 1050 × 630 pixels" in ran.output
