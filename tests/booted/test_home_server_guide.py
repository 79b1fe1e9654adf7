"""The guide to a home server, followed to the letter on a fresh one."""

from __future__ import annotations

from pathlib import Path

from tests.support.booted import CHECKOUT, Guest, Layers, boot
from tests.support.pictures import save_jpeg, size_of

GUIDE = Path(__file__).resolve().parents[2] / "deploy" / "home-server.md"


def commands() -> list[str]:
    """Return the guide's blocks of commands, in order."""
    page = GUIDE.read_text("utf-8").split("\n## On a home server\n")[1].split("\n## ")[0]
    return [block.split("```")[0] for block in page.split("```sh\n")[1:]]


def test_the_guide_leads_from_nothing_to_a_running_server(guest_base: Layers) -> None:
    """Each block is run as it stands, by root, in the folder of the checkout; then what the guide promises is there."""
    with boot(guest_base) as guest:
        guest.copy_checkout()
        save_jpeg(guest.path("/root/north-stack.jpg"), 2400, 1600)
        said = ""
        for block in commands():
            said += guest.script(block, cwd=CHECKOUT).stdout
            if "north-stack" in block:
                guest.until(lambda: guest.path("/srv/lanternslide/out/ida/portfolio/north-stack.jpg").exists(), "it")
            if "site-ida.path" in block:
                second_picture_reaches_the_site(guest)
        assert guest.show("lanternslide", "ActiveState") == "active"
        assert guest.show("lanternslide", "UnitFileState") == "enabled"
        assert nothing_is_open_to_others(guest) == []

    assert "is at work." in said
    assert "wrong" not in said
    assert '"event": "delivered"' in said


def second_picture_reaches_the_site(guest: Guest) -> None:
    """Drop another picture, and wait until the site's folder has it."""
    made = save_jpeg(guest.path("/root/gull.jpg"), 2000, 1500)
    guest.run("install", "--owner=ida", "--mode=640", "/root/gull.jpg", "/srv/lanternslide/drop/ida/gull.jpg")
    site = guest.path("/srv/lanternslide/site")
    guest.until((site / "gull.jpg").exists, "the site's picture")

    assert size_of(site / "gull.jpg") == (1050, 788)
    assert {path.name for path in site.iterdir()} == {"gull.jpg", "north-stack.jpg"}
    assert made.exists()


def nothing_is_open_to_others(guest: Guest) -> list[str]:
    """Return what a stranger on the server could read of the pictures and the ledger."""
    private = ("drop/ida", "drop/juno", "proofs/ida", "proofs/juno", "out")
    folders = [f"/srv/lanternslide/{name}" for name in private]
    folders.append("/var/lib/lanternslide")
    return [
        folder for folder in folders if guest.run("ls", folder, user="nobody", cwd="/", check=False).returncode == 0
    ]
