"""The service on a server that runs a real systemd, installed by its own command."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator

import pytest

from tests.support.booted import Layers
from tests.support.home_server import CONFIG, LANTERNSLIDE, Server, server_over
from tests.support.pictures import size_of


@pytest.fixture(scope="module")
def server(guest_with_package: Layers) -> Iterator[Server]:
    """Return a server that the tests of this module share."""
    with server_over(guest_with_package) as found:
        yield found


@pytest.fixture
def at_work(server: Server) -> Iterator[Server]:
    """Return the server with the service running."""
    server.start()
    yield server
    server.guest.run("systemctl", "reset-failed", "lanternslide", check=False)


def test_installing_says_what_it_did_and_what_to_do(server: Server) -> None:
    """It names the files, what may be written, what the service's user finds, and how to start; again is no harm."""
    said = server.lanternslide("install", "--systemd").stdout

    for part in (
        "/etc/systemd/system/lanternslide.service", "/etc/sysusers.d/lanternslide.conf",
        "/etc/tmpfiles.d/lanternslide.conf", "/srv/lanternslide/out", "systemctl enable --now lanternslide",
    ):  # fmt: skip
        assert part in said
    assert "What the service finds, as the user lanternslide" in said
    assert "wrong" not in said
    status = server.guest.path("/var/lib/lanternslide").stat()
    assert (status.st_uid, status.st_mode & 0o777) == (server.guest.account("lanternslide").uid, 0o700)


def test_installing_while_it_runs_says_that_a_restart_is_needed(at_work: Server) -> None:
    """Folders that the config names now are seen after a restart."""
    assert "systemctl restart lanternslide" in at_work.lanternslide("install", "--systemd").stdout


def test_systemd_has_nothing_to_say_against_the_unit(server: Server) -> None:
    """What was installed is verified without a warning, and exposed by no more than 0.4."""
    verified = server.guest.run("systemd-analyze", "verify", "lanternslide.service")
    counted = server.guest.run("systemd-analyze", "security", "--no-pager", "--threshold=4", "lanternslide")

    print(counted.stdout.splitlines()[-1])
    assert verified.stdout + verified.stderr == ""


def test_a_dry_run_writes_nothing(server: Server) -> None:
    """It prints the same unit."""
    unit = server.guest.path("/etc/systemd/system/lanternslide.service").read_text()

    said = server.lanternslide("install", "--systemd", "--dry-run").stdout
    as_user = server.guest.run(LANTERNSLIDE, "--config", CONFIG, "install", "--systemd", "--dry-run", user="ida")

    assert unit in said
    assert "User=lanternslide" in as_user.stdout


def test_installing_for_the_machine_is_roots(server: Server) -> None:
    """Somebody else is told so, and of --user."""
    done = server.guest.run(LANTERNSLIDE, "--config", CONFIG, "install", "--systemd", user="ida", check=False)

    assert done.returncode == 2
    assert "--user" in done.stderr


def test_a_dropped_picture_is_delivered(at_work: Server) -> None:
    """It is ready when systemd says so, and says what is at hand. Deliveries have their mode, not the umask's."""
    assert at_work.show("ActiveState") == "active"
    at_work.until(lambda: at_work.show("StatusText").startswith("Watching."), "the status")

    original = at_work.drop("north-stack@portfolio@journal.jpg", size=(3400, 2200))
    before = original.read_bytes()
    at_work.until(lambda: len(at_work.delivered() & names("north-stack", "-2x")) == 3, "the deliveries")

    delivered = at_work.out("ida/portfolio/north-stack.jpg")
    assert size_of(delivered) == (1050, 679)
    assert delivered.stat().st_mode & 0o777 == 0o644
    assert original.read_bytes() == before
    at_work.until(lambda: at_work.show("StatusText").endswith(": 0."), "rest")


def names(stem: str, *more: str) -> set[str]:
    """Return where a picture stands in portfolio and journal."""
    return {f"ida/portfolio/{stem}.jpg", *(f"ida/journal/{stem}{end}.jpg" for end in ("", *more))}


def test_the_journal_has_an_event_a_line(at_work: Server) -> None:
    """Each has its priority; what waits for its owner is a warning, and its fields are kept."""
    at_work.drop("gull@nowhere.jpg")
    at_work.until(lambda: any(event["event"] == "held" for event in at_work.events()), "the held event")

    held = next(event for event in at_work.events() if event["event"] == "held")
    assert held["priority"] == 4
    assert held["original"] == "ida: gull@nowhere.jpg"
    assert next(event for event in at_work.events() if event["event"] == "watching")["priority"] == 6
    shown = at_work.guest.run("journalctl", "--unit=lanternslide", "--priority=warning", "--output=cat", "--no-pager")
    assert "gull@nowhere.jpg" in shown.stdout
    assert all(
        line["SYSLOG_IDENTIFIER"] in ("lanternslide", "systemd") for line in at_work.guest.journal("lanternslide")
    )
    at_work.guest.path("/srv/lanternslide/drop/ida/gull@nowhere.jpg").unlink()


def test_it_runs_as_nobody_who_could_do_harm(at_work: Server) -> None:
    """No capabilities, system calls filtered, originals and the system read-only, no network, homes unseen."""
    process = at_work.show("MainPID")
    status = at_work.guest.path(f"/proc/{process}/status").read_text()
    fields = dict(line.split(":\t", 1) for line in status.splitlines() if ":\t" in line)

    assert (fields["CapEff"], fields["NoNewPrivs"], fields["Seccomp"]) == ("0000000000000000", "1", "2")
    inside = ["nsenter", f"--target={process}", "--mount", "--net"]
    for folder in ("/srv/lanternslide/drop/ida", "/etc/lanternslide", "/usr"):
        done = at_work.guest.run(*inside, "touch", f"{folder}/x", check=False)
        assert "Read-only file system" in done.stderr, folder
    assert at_work.guest.run(*inside, "ls", "/home").stdout == ""
    assert at_work.guest.run(*inside, "cat", "/proc/self/net/dev").stdout.count(":") == 1  # the loopback alone


def test_a_worker_that_is_killed_costs_no_more_than_an_attempt(at_work: Server) -> None:
    """The service goes on, and the picture is done."""
    main = at_work.show("MainPID")
    at_work.drop("kittiwake.jpg", size=(6000, 4000))
    at_work.until(lambda: workers_of(at_work, main), "a worker")
    at_work.guest.run("kill", "-KILL", *workers_of(at_work, main))
    at_work.until(lambda: "ida/portfolio/kittiwake.jpg" in at_work.delivered(), "the delivery")

    assert at_work.show("MainPID") == main


def workers_of(server: Server, main: str) -> list[str]:
    """Return the numbers of the worker processes."""
    found = server.guest.run("pgrep", "--parent", main, "--full", "spawn_main", check=False)
    return found.stdout.split()


def test_killed_it_is_started_again_and_finishes(at_work: Server) -> None:
    """After SIGKILL to all of it in the middle of work, everything is delivered, once."""
    restarts = int(at_work.show("NRestarts"))
    for number in range(6):
        at_work.drop(f"tern-{number}.jpg", size=(6000, 4000), seed=number)
    at_work.until(lambda: any("tern" in name for name in at_work.delivered()), "the first")
    at_work.guest.run("systemctl", "kill", "--signal=KILL", "lanternslide")
    wanted = {f"ida/portfolio/tern-{number}.jpg" for number in range(6)}
    at_work.until(lambda: wanted <= at_work.delivered(), "the rest")

    assert int(at_work.show("NRestarts")) == restarts + 1
    assert {name for name in at_work.delivered() if "tern" in name} == wanted


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not here")
def test_a_main_loop_that_hangs_is_started_again(at_work: Server) -> None:
    """All other threads go on, and the supervisor still notices; the journal shows where it hung."""
    restarts = int(at_work.show("NRestarts"))
    main = at_work.guest.host_pid(int(at_work.show("MainPID")))
    # Only the main thread is traced, and its next wait for mail does not come back.
    hang = ["strace", f"--attach={main}", "--output=/dev/null", "--inject=futex:delay_enter=600s"]
    with subprocess.Popen(hang, stderr=subprocess.DEVNULL) as strace:
        try:
            at_work.until(lambda: "Watchdog timeout" in said(at_work), "the end of a service that hangs")
        finally:
            strace.kill()
    at_work.until(lambda: int(at_work.show("NRestarts")) > restarts, "the restart")
    at_work.drop("puffin.jpg")
    at_work.until(lambda: "ida/portfolio/puffin.jpg" in at_work.delivered(), "the delivery")

    assert re.search(r"service\.py.* in run", said(at_work))


def said(server: Server) -> str:
    """Return all that the journal has of the service."""
    return "\n".join(str(line["MESSAGE"]) for line in server.guest.journal("lanternslide"))


def test_a_config_is_read_again_or_refused(at_work: Server) -> None:
    """A good one counts at once; a broken one is refused by name, and the old one stays."""
    config = at_work.guest.path(CONFIG)
    whole = config.read_text()
    main = at_work.show("MainPID")
    config.write_text(whole.replace("long_edge = 1050", "long_edge = 900"))
    at_work.guest.run("systemctl", "reload", "lanternslide")
    at_work.until(lambda: [event for event in at_work.events() if event["event"] == "config read again"], "the reload")
    at_work.drop("skua.jpg")
    at_work.until(lambda: "ida/portfolio/skua.jpg" in at_work.delivered(), "the delivery")
    assert max(size_of(at_work.out("ida/portfolio/skua.jpg"))) == 900

    config.write_text(whole.replace("long_edge = 1050", "long_egde = 1050"))
    at_work.guest.run("systemctl", "reload", "lanternslide")
    at_work.until(lambda: [event for event in at_work.events() if event["event"] == "config refused"], "the refusal")
    refused = next(event for event in at_work.events() if event["event"] == "config refused")
    assert "long_egde" in str(refused["detail"])
    assert refused["priority"] == 3
    at_work.drop("dunlin.jpg")
    at_work.until(lambda: "ida/portfolio/dunlin.jpg" in at_work.delivered(), "the delivery")
    assert max(size_of(at_work.out("ida/portfolio/dunlin.jpg"))) == 900
    assert at_work.show("MainPID") == main
    config.write_text(whole)


def test_it_stops_in_order_during_work_and_goes_on_later(at_work: Server) -> None:
    """What is being made is finished, nothing is left half-done, and the next start does the rest."""
    for number in range(6):
        at_work.drop(f"eider-{number}.jpg", size=(6000, 4000), seed=number)
    at_work.until(lambda: any("eider" in name for name in at_work.delivered()), "the first")
    at_work.guest.run("systemctl", "stop", "lanternslide")

    assert (at_work.show("ActiveState"), at_work.show("Result")) == ("inactive", "success")
    assert not list(at_work.out().rglob(".lanternslide-*"))
    at_work.start()
    wanted = {f"ida/portfolio/eider-{number}.jpg" for number in range(6)}
    at_work.until(lambda: wanted <= at_work.delivered(), "the rest")
    assert {name for name in at_work.delivered() if "eider" in name} == wanted


def test_a_broken_config_at_the_start_is_not_tried_for_ever(at_work: Server) -> None:
    """The unit fails with the fault in the journal, as an error, and waits for its owner."""
    config = at_work.guest.path(CONFIG)
    whole = config.read_text()
    config.write_text(whole.replace("long_edge = 1050", "long_egde = 1050"))
    done = at_work.guest.run("systemctl", "restart", "lanternslide", check=False)

    assert done.returncode != 0
    assert (at_work.show("ActiveState"), at_work.show("ExecMainStatus")) == ("failed", "2")
    lines = [line for line in at_work.guest.journal("lanternslide") if "long_egde" in str(line["MESSAGE"])]
    assert lines[-1]["PRIORITY"] == "3"
    config.write_text(whole)


def test_at_rest_it_says_nothing(at_work: Server) -> None:
    """Twelve scans, a sixth of a day's where events come, write no line."""
    config = at_work.guest.path(CONFIG)
    whole = config.read_text()
    config.write_text(whole.replace("settle_seconds = 0.3", "settle_seconds = 0.3\nscan_seconds = 1"))
    at_work.guest.run("systemctl", "restart", "lanternslide")
    at_work.until(lambda: at_work.show("StatusText").endswith(": 0."), "rest")
    before = len(at_work.guest.journal("lanternslide"))
    at_work.guest.run("sleep", "12")

    assert len(at_work.guest.journal("lanternslide")) == before
    config.write_text(whole)


def test_it_starts_with_the_machine(server: Server) -> None:
    """Enabled, it is there after a boot, and does what was dropped meanwhile."""
    server.guest.run("systemctl", "enable", "lanternslide")
    server.guest.run("systemctl", "stop", "lanternslide")
    server.drop("wigeon.jpg")
    server.guest.reboot()
    server.until(lambda: "ida/portfolio/wigeon.jpg" in server.delivered(), "the delivery")

    assert server.show("ActiveState") == "active"


def test_a_command_of_roots_is_refused_and_one_of_the_services_user_done(at_work: Server) -> None:
    """What root would leave behind the service could not use."""
    at_work.drop("whimbrel.jpg")
    at_work.until(lambda: "ida/portfolio/whimbrel.jpg" in at_work.delivered(), "the delivery")
    at_work.until(lambda: at_work.show("StatusText").endswith(": 0."), "rest")
    original = "/srv/lanternslide/drop/ida/whimbrel.jpg"
    guest = at_work.guest
    done = guest.run("sudo", "-u", "lanternslide", LANTERNSLIDE, "--config", CONFIG, "withdraw", original, check=False)

    assert done.returncode == 0, done.stderr
    assert "ida/portfolio/whimbrel.jpg" not in at_work.delivered()
    guest.run("systemctl", "stop", "lanternslide")
    refused = at_work.lanternslide("retry", original, check=False)
    assert refused.returncode == 4
    assert "sudo -u lanternslide" in refused.stderr


def test_whoever_may_not_look_is_told_who_may(server: Server) -> None:
    """A photographer who asks for the status hears whose it is."""
    done = server.guest.run(LANTERNSLIDE, "--config", CONFIG, "status", user="ida", check=False)

    assert done.returncode == 4
    assert "sudo -u lanternslide" in done.stderr


def test_uninstalling_leaves_what_is_the_owners(server: Server) -> None:
    """It stops the service and deletes what was installed; pictures, config, ledger and own changes stay."""
    server.start()
    guest = server.guest
    server.drop("curlew@journal.jpg")
    server.until(lambda: "ida/journal/curlew.jpg" in server.delivered(), "the delivery")
    before = server.delivered()
    said = server.lanternslide("uninstall").stdout

    assert server.show("ActiveState") in ("inactive", "failed")
    for gone in ("systemd/system/lanternslide.service", "sysusers.d/lanternslide.conf", "tmpfiles.d/lanternslide.conf"):
        assert f"/etc/{gone}" in said
        assert not guest.path(f"/etc/{gone}").exists()
    assert guest.run("systemctl", "list-unit-files", "lanternslide.service", "--no-legend", check=False).stdout == ""
    assert server.delivered() == before
    for stays in (
        CONFIG,
        "/var/lib/lanternslide/ledger.sqlite",
        "/etc/systemd/system/lanternslide.service.d/override.conf",
    ):
        assert guest.path(stays).exists()
    assert server.lanternslide("uninstall").stdout.startswith("No lanternslide service")
