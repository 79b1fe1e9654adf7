"""The help texts, and the README and the guides against them."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import pytest

from lanternslide.cli.main import cli
from lanternslide.config import FirstAnswers, FirstDestination, render_first
from tests.support.pictures import save_jpeg
from tests.support.service import SERVICE, make_home, sweep

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
GUIDES = (
    README,
    ROOT / "DEVELOPERS.md",
    *sorted(ROOT.glob("[a-z]*/*.md")),
    ROOT / "tests" / "benchmarks" / "README.md",
)


@cache
def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the command line without a config."""
    return subprocess.run(
        [sys.executable, "-m", "lanternslide", *arguments],
        capture_output=True, text=True, encoding="utf-8", check=False, cwd="/",
        env={"PYTHONPATH": str(SERVICE), "HOME": "/nowhere"},
    )  # fmt: skip


def commands() -> list[str]:
    """Return the names of all commands, from the list that `--help` shows."""
    listed = run("--help").stdout.partition("\nCommands:\n")[2].partition("\n\n")[0]
    return re.findall(r"^  ([a-z]+)  ", listed, re.MULTILINE)


def options(*command: str) -> set[str]:
    """Return the long options that the help of a command shows, but for the help itself."""
    shown = run(*command, "--help").stdout.partition("\nOptions:\n")[2]
    return set(re.findall(r"^  (?:-[a-z], )?(--[a-z-]+)", shown, re.MULTILINE)) - {"--help"}


def parts(command: str) -> list[str]:
    """Return the paragraphs between usage and options, each on one line."""
    text = run(command, "--help").stdout.partition("\n\n")[2].partition("\nOptions:\n")[0]
    return [" ".join(part.split()) for part in text.split("\n\n") if part.strip()]


def table(title: str) -> list[list[str]]:
    """Return the rows of the README's first table below a heading, each as its cells."""
    below = README.read_text("utf-8").partition(f"# {title}\n")[2].partition("\n|")[2].partition("\n\n")[0]
    return [[cell.strip() for cell in row.strip("| ").split(" | ")] for row in below.splitlines()[2:]]


# The help texts


@pytest.mark.parametrize("arguments", [["--help"], *([name, "--help"] for name in cli.commands)])
def test_help_fits_a_terminal_and_needs_no_config(arguments: list[str]) -> None:
    """Every help text fits 80 columns and is there without a config."""
    done = run(*arguments)

    assert done.returncode == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80


@pytest.mark.parametrize("name", cli.commands)
def test_help_texts_have_the_same_parts_in_the_same_order(name: str) -> None:
    """One sentence, which the list of commands has too; what it changes; what of the service; special exit statuses."""
    first, *rest = parts(name)
    labels = [part.partition(":")[0] for part in rest if part.startswith(("Changes:", "While the", "Exit status:"))]

    assert re.fullmatch(r"[A-Z][^.]*\.", first)
    assert f"  {name:{max(map(len, cli.commands))}}  {first}\n" in run("--help").stdout
    assert labels[:2] == ["Changes", "While the service runs"]
    assert labels[2:] in ([], ["Exit status"])
    assert [part.partition(":")[0] for part in rest[-len(labels) :]] == labels
    assert [part for part in rest if not part.endswith(".")] == []


@pytest.mark.parametrize("name", cli.commands)
def test_options_are_described_alike(name: str) -> None:
    """Each with whole sentences, from a capital to a full stop."""
    _, _, shown = run(name, "--help").stdout.partition("\nOptions:\n")
    described = [" ".join(text.split()) for text in re.split(r"^  -\S.*?(?:\s{2,})", shown, flags=re.MULTILINE)[1:]]

    assert len(described) == len(options(name)) + 1
    assert [text for text in described if not re.fullmatch(r"[A-Z].*\.( \[required\])?", text)] == []


# The README


def test_every_command_and_option_is_in_the_readmes_table() -> None:
    """What the help shows stands in the table of commands, and the table has nothing else."""
    found: dict[str, set[str]] = {}
    for usage, does in table("Your commands"):
        name = re.match(r"`lanternslide ([a-z]+)", usage)
        assert name, usage
        found.setdefault(name[1], set()).update(re.findall(r"--[a-z-]+", usage + does))

    assert found == {name: options(name) - {"--photographer"} for name in commands()}
    assert {name for name in commands() if "--photographer" not in options(name)} == {"init", "install", "uninstall"}
    assert "all but `init`, `install` and `uninstall` take `--photographer NAME`" in README.read_text("utf-8")
    assert commands() == sorted(cli.commands)


def test_every_call_in_the_guides_exists() -> None:
    """Each `lanternslide COMMAND --option`, in code and in the text, names a command and options that there are."""
    text = "\n".join(guide.read_text("utf-8") for guide in GUIDES)
    code = [line.strip() for block in text.split("```")[1::2] for line in block.splitlines()]
    code += re.findall(r"`([^`\n]+)`", "".join(text.split("```")[::2]))
    # Also as another user, or by its whole path.
    before_it = re.compile(r"(?:sudo -u \w+ )?(?:[\w./\\:~$-]+[/\\])?lanternslide(?:\.exe)? ")
    calls = [line[found.end() :] for line in code if (found := before_it.match(line))]
    known = {name: options(name) for name in commands()}
    known["COMMAND"] = known[""] = set()
    everywhere = options()

    assert len(calls) >= 20
    for call in calls:
        before, name, after = re.fullmatch(r"((?:--config \S+ |--version)*)([a-zA-Z]*)(.*)", call).groups()  # type: ignore[union-attr]
        assert name in known, call
        assert set(re.findall(r"--[a-z-]+", before)) <= everywhere, call
        assert set(re.findall(r"--[a-z-]+", after)) <= known[name], call
    assert everywhere <= set(re.findall(r"--[a-z-]+", " ".join(calls)))


def test_the_exit_statuses_are_the_same_in_both() -> None:
    """The README's table says of each status what the help says, and then more."""
    said = " ".join(run("--help").stdout.partition("Exit status: ")[2].split()).rstrip(".")
    short = dict(part.split(" ", 1) for part in said.split("; "))
    long = {status: re.sub(r" \(.*?\)", "", means) for status, means in table("Exit status")}

    assert short.keys() == long.keys() == {"0", "1", "2", "3", "4"}
    assert [status for status in short if not long[status].startswith(short[status])] == []


def address_of(heading: str) -> str:
    """Return the part of an address behind # that leads to a heading, as web pages of this kind make it."""
    return re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-")


@pytest.mark.parametrize("guide", GUIDES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_link_leads_somewhere(guide: Path) -> None:
    """To a file that is there, and to a heading in it."""
    links = re.findall(r"\]\((?!https?:)([^)#]*)(?:#([^)]*))?\)", guide.read_text("utf-8"))
    for file, part in links:
        target = guide.parent / file if file else guide
        assert target.exists(), file
        if part:
            headings = re.findall(r"^#+ (.*)$", target.read_text("utf-8"), re.MULTILINE)
            assert part in map(address_of, headings), part


def test_every_guide_is_named() -> None:
    """In the README or, if it is about the code, on the developers' page."""
    text = "".join(path.read_text("utf-8") for path in (README, ROOT / "DEVELOPERS.md"))
    assert [
        guide for guide in GUIDES if f"({guide.relative_to(ROOT).as_posix()})" not in text and guide != README
    ] == []


def test_the_first_pages_can_be_read_whole() -> None:
    """What everybody reads has less than 200 lines."""
    for page in (README, ROOT / "DEVELOPERS.md"):
        assert len(page.read_text("utf-8").splitlines()) < 200, page


# Wrong usage


@pytest.mark.parametrize("arguments", [["swep"], ["--colour"], ["sweep", "extra"]])
def test_wrong_usage_has_its_status(arguments: list[str]) -> None:
    """A wrong command, option or argument ends with 2 and says what is wrong."""
    done = run(*arguments)

    assert done.returncode == 2
    assert arguments[-1] in done.stderr


def test_no_config_is_said() -> None:
    """Without a config there is a message that says where one was looked for."""
    done = run("sweep")

    assert done.returncode == 2
    assert "There is no config here" in done.stderr
    assert "lanternslide.toml" in done.stderr


def test_the_readme_begins_with_the_job() -> None:
    """One paragraph states the job, and two commands set everything up."""
    _, first, *_ = README.read_text("utf-8").split("\n\n")

    assert first.startswith("You drop")
    assert "sh deploy/demo.sh" in README.read_text("utf-8")
    assert "sh tests/run.sh" in README.read_text("utf-8")


def config_in_the_readme() -> str:
    """Return the README's example of a config."""
    return README.read_text("utf-8").split("```toml\n")[1].split("```")[0]


def test_the_readmes_config_is_what_init_writes() -> None:
    """But for its remarks, and for the club, which was added by hand."""
    destinations = (FirstDestination(name="portfolio", long_edge=1050),)
    answers = FirstAnswers(creator="Ida Marrow", contact="", drop="drop/ida", destinations=destinations)
    shown = tomllib.loads(config_in_the_readme())
    del shown["destinations"]["club"]

    assert shown == tomllib.loads(render_first(answers, Path("reference.toml")))


def test_the_readmes_config_works_as_it_says(tmp_path: Path) -> None:
    """The config in the README, with the folders that it asks for, delivers what is dropped."""
    home = make_home(tmp_path, config_in_the_readme())
    (home.root / "proofs").mkdir()
    (home.drop() / "club" / "islands").mkdir(parents=True)
    save_jpeg(home.drop() / "north-stack.jpg", 2000, 1200)
    save_jpeg(home.drop() / "club" / "islands" / "stack.jpg", 2000, 1200)

    ran = sweep(home)

    assert ran.status == 0, ran.errors
    assert home.delivered().keys() == {"ida/portfolio/north-stack.jpg", "club/islands/stack.jpg"}
