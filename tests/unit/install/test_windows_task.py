"""The task for Windows, held against the published schema; no Windows is asked here."""

from __future__ import annotations

import codecs
import re
from pathlib import PureWindowsPath
from xml.etree import ElementTree as ET

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lanternslide.errors import UsageError
from lanternslide.install import TaskDefinition, config_in, task_file, windowless
from tests.unit.install.task_schema import NAMESPACE, TYPES, faults

AWKWARD = PureWindowsPath("C:\\Bilder & Töne\\Ida's <new> 100%\\lanternslide.toml")
PLAIN = TaskDefinition(
    user="HOME\\ida",
    python=PureWindowsPath("C:\\Program Files\\Lanternslide\\pythonw.exe"),
    config=AWKWARD,
    folder=AWKWARD.parent,
)


def read(data: bytes) -> ET.Element:
    """Return the root of a task's file, as an XML reader understands its bytes."""
    return ET.fromstring(data)  # noqa: S314 - our own


def text_at(root: ET.Element, path: str) -> str | None:
    """Return the text of the element at *path*, of the schema's namespace."""
    return root.findtext("/".join(f"{{{NAMESPACE}}}{part}" for part in path.split("/")))


def split(arguments: str) -> list[str]:
    """Return what a program finds in its arguments, by the rules of Microsoft's C run-time.

    Source: Microsoft Learn, "Parsing C command-line arguments": blanks part, quotes hold together, backslashes count
    only before a quote, where two of them are one and an odd one takes the quote's meaning away.
    """
    found, current, inside, at = [], "", False, 0
    while at < len(arguments):
        match = re.compile(r'(\\*)("?)').match(arguments, at)
        assert match is not None
        slashes, quote = match.groups()
        if quote:
            current += "\\" * (len(slashes) // 2)
            if len(slashes) % 2:
                current += '"'
            else:
                inside = not inside
            at = match.end()
        elif slashes:
            current += slashes
            at = match.end()
        elif arguments[at] in " \t" and not inside:
            found.append(current)
            current, at = "", at + 1
        else:
            current += arguments[at]
            at += 1
    return [*found, current]


def test_the_file_is_what_windows_takes() -> None:
    """It is UTF-16 in little-endian order, with its mark, and its declaration says so."""
    data = task_file(PLAIN)

    assert data[:2] == b"\xff\xfe" == codecs.BOM_UTF16_LE
    assert data[2:].decode("utf-16-le").startswith('<?xml version="1.0" encoding="UTF-16"?>\r\n<Task ')
    assert "\ufeff" not in data[2:].decode("utf-16-le")
    assert read(data).tag == f"{{{NAMESPACE}}}Task"
    assert read(data).get("version") == "1.2"


def test_every_element_is_as_the_schema_says() -> None:
    """Names, order, types, attributes and what is needed: nothing that the published schema does not allow."""
    assert faults(read(task_file(PLAIN))) == []


@pytest.mark.parametrize(
    ("before", "after", "fault"),
    [
        ("<Delay>PT30S</Delay>", "<Delay>30</Delay>", "no duration"),
        ("<Count>3</Count>", "<Count>256</Count>", "no restartCount"),
        ("<Count>3</Count>", "", "has no Count"),
        ("<Priority>7</Priority>", "<Urgency>7</Urgency>", "does not know Urgency"),
        (
            "<Enabled>true</Enabled>\r\n      <Delay>PT30S</Delay>",
            "<Delay>PT30S</Delay><Enabled>true</Enabled>",
            "order",
        ),
        ("<LogonType>Password", "<LogonType>Anyone", "no logonType"),
        ('id="Author"', 'id="the author"', "the author"),
    ],
)
def test_the_table_finds_faults(before: str, after: str, fault: str) -> None:
    """What holds the task against the schema sees each kind of fault, so that seeing none says something."""
    text = task_file(PLAIN)[2:].decode("utf-16-le")
    assert before in text
    found = faults(read(codecs.BOM_UTF16_LE + text.replace(before, after).encode("utf-16-le")))

    assert [fault in line for line in found] == [True]


def test_the_table_knows_every_type_that_it_names() -> None:
    """Each complex type of the table is reached from the task itself."""
    reached = {"taskType"}
    for _ in TYPES:
        reached |= {kind for name in reached & TYPES.keys() for kind in TYPES[name].children.values()}

    assert reached >= TYPES.keys()


def test_the_account_is_the_one_that_acts() -> None:
    """The action's context names the one principal there is."""
    root = read(task_file(PLAIN))
    principal, actions = root.find(f".//{{{NAMESPACE}}}Principal"), root.find(f"{{{NAMESPACE}}}Actions")
    assert principal is not None
    assert actions is not None

    assert actions.get("Context") == principal.get("id")
    assert text_at(root, "Principals/Principal/UserId") == "HOME\\ida"


def test_it_runs_the_service_and_nothing_else() -> None:
    """A path with blanks, an ampersand, quotes and letters beyond ASCII reaches the service as it is."""
    root = read(task_file(PLAIN))

    assert text_at(root, "Actions/Exec/Command") == "C:\\Program Files\\Lanternslide\\pythonw.exe"
    assert text_at(root, "Actions/Exec/WorkingDirectory") == str(AWKWARD.parent)
    assert split(text_at(root, "Actions/Exec/Arguments") or "") == [
        "-m", "lanternslide", "--config", str(AWKWARD), "watch",
    ]  # fmt: skip


@pytest.mark.parametrize("config", ["C:\\plain.toml", "C:\\a b\\", '\\\\nas\\fo"o\\x.toml', "D:\\a\\\\b c\\x"])
def test_arguments_are_quoted_as_the_run_time_reads_them(config: str) -> None:
    """Blanks, quotes and backslashes before a quote come through."""
    task = TaskDefinition(user="u", python=PLAIN.python, config=PureWindowsPath(config), folder=PLAIN.folder)

    assert split(task.arguments)[3] == str(PureWindowsPath(config))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("Triggers/TimeTrigger/Repetition/Interval", "PT5M"),
        ("Triggers/TimeTrigger/Repetition/Duration", None),
        ("Settings/ExecutionTimeLimit", "PT0S"),
        ("Settings/MultipleInstancesPolicy", "IgnoreNew"),
        ("Settings/DisallowStartIfOnBatteries", "false"),
        ("Settings/StopIfGoingOnBatteries", "false"),
        ("Settings/StartWhenAvailable", "true"),
        ("Settings/IdleSettings/StopOnIdleEnd", "false"),
        ("Settings/RestartOnFailure/Interval", "PT1M"),
        ("Principals/Principal/LogonType", "Password"),
        ("Principals/Principal/RunLevel", "LeastPrivilege"),
    ],
)
def test_defaults_that_would_stop_a_service_are_overruled(path: str, value: str | None) -> None:
    """Three days at most, mains alone, stopped when the machine is used: none of that holds for a service."""
    assert text_at(read(task_file(PLAIN)), path) == value


@pytest.mark.parametrize(
    ("python", "config", "fault"),
    [
        ("C:\\" + "x" * 300 + "\\pythonw.exe", "C:\\c.toml", "has 315 letters; a task takes 260"),
        ("C:\\pythonw.exe", "C:\\half\ud800.toml", "is not text"),
        ("C:\\pythonw.exe", "C:\\bell\x07.toml", "is not text"),
    ],
)
def test_what_a_task_cannot_say_is_refused(python: str, config: str, fault: str) -> None:
    """A path that the schema or XML does not take is named with the reason, before Windows is asked."""
    task = TaskDefinition(
        user="u", python=PureWindowsPath(python), config=PureWindowsPath(config), folder=PureWindowsPath("C:\\")
    )
    with pytest.raises(UsageError, match=fault):
        task_file(task)


@pytest.mark.parametrize(
    ("given", "taken"),
    [
        ("C:\\Venv\\Scripts\\python.exe", "C:\\Venv\\Scripts\\pythonw.exe"),
        ("C:\\Venv\\Scripts\\Python.EXE", "C:\\Venv\\Scripts\\pythonw.exe"),
        ("C:\\Venv\\Scripts\\pythonw.exe", "C:\\Venv\\Scripts\\pythonw.exe"),
    ],
)
def test_the_service_has_no_console(given: str, taken: str) -> None:
    """The interpreter that a task runs is the one beside it without a console."""
    assert windowless(PureWindowsPath(given)) == PureWindowsPath(taken)


NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc"], exclude_characters='\\/:*?"<>|\ufffe\uffff'), min_size=1)
"""Names on Windows: no separators, quotes, wildcards or control characters (Microsoft, "Naming Files, Paths, and
Namespaces"); halves of characters are refused before."""

CONFIGS = st.builds(
    lambda root, names: PureWindowsPath(root + "\\".join(names)),
    st.sampled_from(["C:\\", "\\\\nas\\photos\\", "\\\\?\\D:\\"]),
    st.lists(NAMES, min_size=1, max_size=4),
)


@given(config=CONFIGS)
@example(config=PureWindowsPath("C:\\a b\\--config watch"))
@example(config=PureWindowsPath("C:\\Bilder & Töne\\Ida's 100% &amp;\\灯台 .toml "))
@example(config=PureWindowsPath("\\\\nas\\my photos\\"))
def test_the_config_is_read_back_from_the_task(config: PureWindowsPath) -> None:
    """Whatever the config is called, the task's file says which it is, before and after a terminal's line ends."""
    task = TaskDefinition(user="u", python=PLAIN.python, config=config, folder=PureWindowsPath("C:\\"))
    text = task_file(task).decode("utf-16")

    assert str(config_in(text)) == str(config)
    assert str(config_in("\r\n" + text.replace("\r\n", "\n"))) == str(config)


@pytest.mark.parametrize(
    ("arguments", "config"),
    [
        ('-m lanternslide --config "C:\\Ida\\a.toml"  watch', PureWindowsPath("C:\\Ida\\a.toml")),
        ("-m\tlanternslide --config C:\\Ida\\a.toml watch --photographer ida", PureWindowsPath("C:\\Ida\\a.toml")),
        ("-m lanternslide watch", None),
        ("-m lanternslide --config", None),
        ("", None),
    ],
)
def test_a_task_that_somebody_has_changed(arguments: str, config: PureWindowsPath | None) -> None:
    """Quotes and blanks that the service would not have written are understood; a task without a config names none."""
    text = task_file(PLAIN).decode("utf-16")
    start, end = text.index("<Arguments>"), text.index("</Arguments>")

    assert config_in(f"{text[:start]}<Arguments>{arguments}{text[end:]}") == config


@pytest.mark.parametrize("text", ["", "no task", "<Task><Actions>", "<Task/>"])
def test_what_is_no_task_names_no_config(text: str) -> None:
    """What Windows answers is not trusted to be what it should be."""
    assert config_in(text) is None
