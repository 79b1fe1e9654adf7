"""``lanternslide trace``: what it says, that it comes true, and that nothing is written."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from PIL import Image

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import PLAIN, Home, Ran, make_home, run, sweep, watching

HELD, USAGE, WAITS = 1, 2, 3


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    return make_home(tmp_path)


def everything(home: Home) -> dict[str, tuple[int, int]]:
    """Return size and time of every file and folder of a home."""
    return {
        str(path.relative_to(home.root)): (path.lstat().st_size, path.lstat().st_mtime_ns)
        for path in sorted(home.root.rglob("*"))
    }


def trace(home: Home, path: Path) -> Ran:
    """Run ``lanternslide trace``; it has written nothing, and its lines fit a terminal."""
    before = everything(home)
    ran = run(home, "trace", path)
    assert everything(home) == before
    assert "Traceback" not in ran.errors
    assert max(map(len, ran.output.splitlines()), default=0) <= 80
    return ran


def words(ran: Ran) -> str:
    """Return the output as one line, without the breaks of its lines."""
    return " ".join(ran.output.split())


def path_in(ran: Ran, path: Path) -> bool:
    """Return whether a path is in the output, which folds long ones, also at a space in them."""
    return "".join(str(path).split()) in "".join(ran.output.split())


# One file


def test_a_tagged_file_goes_where_its_name_says_and_so_it_comes(home: Home) -> None:
    """Each destination with the tag that named it, its size and its file; a sweep then makes just that."""
    home.config.write_text(PLAIN + 'tags = ["club", "society"]\n')
    original = save_jpeg(home.drop() / "north-stack@journal@Society.jpg", 3000, 2000)

    ran = trace(home, original)

    said = words(ran)
    assert ran.status == 0
    assert "journal, because its name says @journal" in said
    assert "club, because its name says @Society" in said
    assert "JPEG, 3000 × 2000 pixels (6.0 megapixels), 8 bits" in said
    assert "journal: 1600 × 1067 pixels" in said
    assert "club: 1620 × 1080 pixels" in said
    assert "from 3000 to 1600 pixels (long edge) in one step, in linear light; cubic (R. G. Keys, 1981)" in said
    assert "automatic, at strength 1: edges 1.35 times as steep" in said
    assert "quality 90, colours at full size (4:4:4), progressive" in said
    assert "New." in said
    paths = home.out("ida", "journal", "north-stack.jpg"), home.out("club", "north-stack.jpg")
    assert all(path_in(ran, path) for path in paths)

    assert sweep(home).status == 0
    assert [size_of(path) for path in paths] == [(1600, 1067), (1620, 1080)]
    assert len(home.delivered()) == 2


def test_a_folder_names_the_destination_and_deeper_ones_are_kept(home: Home) -> None:
    """The first folder is why, and the delivery lies in the deeper one."""
    (home.drop() / "Club" / "isles").mkdir(parents=True)
    original = save_jpeg(home.drop() / "Club" / "isles" / "stack.jpg", 3000, 2000)

    ran = trace(home, original)

    assert ran.status == 0
    assert "club, because it lies in the folder Club" in words(ran)
    assert path_in(ran, home.out("club", "isles", "stack.jpg"))


def test_a_file_without_a_word_goes_where_otherwise_says(home: Home) -> None:
    """Both destinations of `otherwise`, and no other."""
    ran = trace(home, save_jpeg(home.drop() / "stack.jpg", 3000, 2000))

    said = words(ran)
    assert "portfolio, because `otherwise` says so" in said
    assert "journal, because `otherwise` says so" in said
    assert "club" not in said


@pytest.mark.parametrize(
    ("name", "content", "reason"),
    [
        ("stack@jornal.jpg", None, "did you mean “@journal”"),
        ("empty@club.jpg", b"", "The file is empty (0 bytes)."),
        ("note@club.jpg", b"no picture at all", "it looks like text"),
    ],
)
def test_what_would_be_held_is_said_with_its_reason(home: Home, name: str, content: bytes | None, reason: str) -> None:
    """The name or the header says so; a sweep holds it for just that."""
    original = home.drop() / name
    if content is None:
        save_jpeg(original, 3000, 2000)
    else:
        original.write_bytes(content)

    ran = trace(home, original)

    assert ran.status == HELD
    assert "Would be held" in ran.output
    assert reason in words(ran)
    (held,) = sweep(home).held().values()
    assert held in words(ran)
    assert "Is held" in trace(home, original).output or content is None


@pytest.mark.parametrize(
    ("key", "reason"),
    [("max_megapixels = 20", "24 megapixels; the config allows 20"), ('memory = "200 MiB"', "budget is 200 MiB")],
)
def test_what_is_beyond_a_limit_would_be_held(home: Home, key: str, reason: str) -> None:
    """More megapixels or more memory than the config allows: with both figures, as a sweep says it."""
    home.config.write_text(PLAIN.replace("workers = 2", f"workers = 2\n{key}"))
    original = home.drop() / "stack@club.jpg"
    Image.new("RGB", (6000, 4000), (90, 120, 30)).save(original)

    ran = trace(home, original)

    assert ran.status == HELD
    assert reason in words(ran)
    (held,) = sweep(home).held().values()
    assert held in words(ran)
    home.config.write_text(PLAIN)
    assert trace(home, original).status == 0


def test_a_small_original_with_densities(home: Home) -> None:
    """What is left out, what is delivered at its own size, and that this is not sharpened."""
    home.config.write_text(PLAIN + "densities = [1, 2]\n")
    large, small = (save_jpeg(home.drop() / f"{width}@club.jpg", width, width // 2) for width in (2400, 900))

    ran = trace(home, large)
    assert ran.status == 0
    assert "The 2x version was left out" in words(ran)
    assert "club, 2x" not in ran.output

    ran = trace(home, small)
    assert ran.status == 0
    assert "club: 900 × 450 pixels" in ran.output
    assert "The original is 900 × 450 pixels, smaller than the destination asks for" in words(ran)
    assert "none: the picture is not reduced" in words(ran)
    assert "not resized" in words(ran)

    ran = trace(home, save_jpeg(home.drop() / "4000@club.jpg", 4000, 2000))
    assert "club, 2x: 3840 × 1920 pixels" in ran.output
    assert path_in(ran, home.out("club", "4000-2x.jpg"))


def test_the_owners_numbers_and_rungs_are_told(home: Home) -> None:
    """Each rung with its sharpening, quality and chroma as the config has them; enlarging has its own limit."""
    numbers = "sharpen = { steps = 2, ratio = 1.5, lead = { radius = 0.7, amount = 180, blend = 0.4 } }"
    home.config.write_text(PLAIN + f'quality = 85\nchroma = "4:2:0"\nprogressive = false\n{numbers}\n')
    original = save_jpeg(home.drop() / "stack@club.jpg", 4000, 2000)

    said = words(trace(home, original))
    assert "from 4000 to 2880 to 1920 pixels (long edge) in 2 steps" in said
    assert "at 2880 pixels: your values, radius 0.7, amount 180 per cent, blend 0.4" in said
    assert "at 1920 pixels: automatic" in said
    assert "quality 85, colours at half the width and height (4:2:0)" in said
    assert "progressive" not in said

    home.config.write_text(
        PLAIN.replace("box = [1920, 1080]", "long_edge = 5000, enlarge = true") + "sharpen = false\n"
    )
    said = words(trace(home, original))
    assert "club: 5000 × 2500 pixels" in said
    assert "enlarged, held to what lies linearly between the pixels" in said
    assert "none: the config switches it off" in said


def test_a_quality_by_need_or_by_bytes_is_told(home: Home) -> None:
    """What it is chosen by, and how low it may go; which it will be is not known before it is made."""
    home.config.write_text(PLAIN + 'quality = "auto"\nmin_ssim = 0.97\nmin_quality = 70\n')
    original = save_jpeg(home.drop() / "stack@club.jpg", 4000, 2000)

    said = words(trace(home, original))
    assert "the lowest quality, from 70 up, whose SSIM is at least 0.97" in said

    home.config.write_text(PLAIN + 'max_bytes = "500 kB"\n')
    said = words(trace(home, original))
    assert "quality 90, lowered as far as 80 to stay under 500 kB" in said


def test_a_name_with_a_date_or_that_is_taken(home: Home) -> None:
    """The file's day stands in for the day of capture, and that is said; a name that is taken gets a number."""
    home.config.write_text(PLAIN + 'name = "{date} {stem}-{width}.jpg"\n')
    original = save_jpeg(home.drop() / "stack@club.jpg", 4000, 2000)
    os.utime(original, (1_800_000_000, 1_800_000_000))  # 15 January 2027, 8 o'clock (UTC)
    home.out("club").mkdir()
    home.out("club", "2027-01-15 stack-1920.jpg").write_bytes(b"somebody else's")

    ran = trace(home, original)

    assert path_in(ran, home.out("club", "2027-01-15 stack-1920-2.jpg"))
    assert "2027-01-15 is the file's" in words(ran)
    assert "Another file has the name 2027-01-15 stack-1920.jpg" in words(ran)


def test_tags_that_are_kept_are_told(home: Home) -> None:
    """With unknown names kept, the doubt is the one that the delivery will have."""
    home.config.write_text(PLAIN.replace("workers = 2", 'workers = 2\nunknown_names = "keep"'))
    ran = trace(home, save_jpeg(home.drop() / "me@skerrow@club.jpg", 3000, 2000))

    assert "“@skerrow” is not a destination, so it stayed part of the name." in words(ran)
    assert path_in(ran, home.out("club", "me@skerrow.jpg"))


def test_the_ledger_says_what_is_done_taken_back_or_changed(home: Home) -> None:
    """A done one needs nothing, a changed config is named, a withdrawn one stays away, a new export is made again."""
    original = save_jpeg(home.drop() / "stack@club.jpg", 3000, 2000)
    assert sweep(home).status == 0

    ran = trace(home, original)
    assert ran.status == 0
    assert "Done: nothing would be made" in words(ran)
    assert "Delivered." in ran.output
    assert path_in(ran, home.out("club", "stack.jpg"))

    home.config.write_text(PLAIN + "quality = 70\n")
    assert "Remake it with `lanternslide sweep --again`" in words(trace(home, original))

    assert run(home, "withdraw", original).status == 0
    assert "Withdrawn: nothing is made until" in words(trace(home, original))

    save_jpeg(original, 2800, 2000, seed=2)
    ran = trace(home, original)
    assert "Exported again" in words(ran)
    assert "club: 1512 × 1080 pixels" in ran.output

    renamed = original.rename(home.drop() / "stack@journal.jpg")
    assert "It would replace stack@club.jpg" in words(trace(home, renamed))


def test_what_is_held_for_what_only_decoding_shows_stays_so(home: Home) -> None:
    """A torn file looks whole from its header, and that is said; once it was tried, it is held with its reason."""
    original = save_jpeg(home.drop() / "torn@club.jpg", 3000, 2000)
    original.write_bytes(original.read_bytes()[:-200_000])

    ran = trace(home, original)
    assert ran.status == 0
    assert "show when the picture is made" in words(ran)
    (held,) = sweep(home).held().values()
    ran = trace(home, original)
    assert ran.status == HELD
    assert f"Is held {held}" in words(ran)


def test_of_two_that_differ_in_tags_the_newer_counts(home: Home) -> None:
    """The older one gives way, before anything was made and after."""
    older, newer = (save_jpeg(home.drop() / f"stack@{tag}.jpg", 3000, 2000) for tag in ("club", "journal"))
    os.utime(older, (1_700_000_000, 1_700_000_000))
    for _ in range(2):
        ran = trace(home, older)
        assert ran.status == 0
        assert "Skipped: stack@journal.jpg differs only in tags and is newer" in words(ran)
        assert "2 pictures of ida" in words(trace(home, home.drop()))
        assert "1 older than a file that differs only in tags" in words(trace(home, home.drop()))
        assert sweep(home).status == 0
    assert "Done" in words(trace(home, newer))
    assert "ida/journal/stack.jpg" in home.delivered()


@pytest.mark.parametrize("name", ["stack.xmp", ".stack.jpg", "stack.jpg.part", "link.jpg"])
def test_what_is_no_original_is_left_alone(home: Home, name: str) -> None:
    """Sidecars, hidden and temporary files and links: nothing would be done, and nothing is wrong."""
    save_jpeg(home.root / "elsewhere.jpg", 300, 200)
    if name == "link.jpg":
        (home.drop() / name).symlink_to(home.root / "elsewhere.jpg")
    else:
        (home.drop() / name).write_bytes(b"x")

    ran = trace(home, home.drop() / name)
    assert ran.status == 0
    assert "Left alone" in ran.output


def test_a_destination_that_is_away_is_waited_for(home: Home) -> None:
    """Where the folder above is missing, the delivery would wait, and the exit status says so."""
    original = save_jpeg(home.drop() / "stack@club.jpg", 3000, 2000)
    home.out().rmdir()

    ran = trace(home, original)
    assert ran.status == WAITS
    assert "Would wait" in ran.output
    assert "is not there" in words(ran)


# A folder


def test_a_folder_is_told_in_total(home: Home) -> None:
    """Pictures, deliveries for each destination, what is left alone, the largest need; held ones, 20 by name."""
    (home.drop() / "club").mkdir()
    for number in range(3):
        save_jpeg(home.drop() / "club" / f"{number}.jpg", 360, 240, seed=number)
    largest = save_jpeg(home.drop() / "large@journal@club.jpg", 5000, 3000)
    save_jpeg(home.drop() / "plain.jpg", 360, 240)
    (home.drop() / "plain.xmp").write_text("x")
    for number in range(23):
        (home.drop() / f"held-{number:02d}@jornal.jpg").write_bytes(b"x")

    ran = trace(home, home.drop())

    said = words(ran)
    assert ran.status == HELD
    assert "28 pictures of ida" in said
    assert "5 would be made: 7 deliveries portfolio 1 journal 2 club 4" in said
    assert "1 file of another kind, left alone" in said
    assert f"for {largest.name}" in said
    assert "23 would be held:" in said
    assert "held-19@jornal.jpg" in said
    assert "held-20@jornal.jpg" not in said
    assert "and 3 more" in said

    for path in home.drop().glob("held-*"):
        path.unlink()
    ran = trace(home, home.drop() / "club")
    assert (ran.status, "3 would be made: 3 deliveries club 3" in words(ran)) == (0, True)
    assert sweep(home).status == 0
    assert len(home.delivered()) == 7
    ran = trace(home, home.drop())
    assert ran.status == 0
    assert "0 would be made" in words(ran)
    assert "5 done already" in words(ran)


def test_a_header_that_is_refused_is_named_in_the_total(home: Home) -> None:
    """What only the header shows is held in the total, too."""
    save_jpeg(home.drop() / "fine@club.jpg", 360, 240)
    (home.drop() / "empty@club.jpg").touch()

    ran = trace(home, home.drop())
    assert ran.status == HELD
    assert "1 would be made: 1 delivery" in words(ran)
    assert "1 would be held: empty@club.jpg The file is empty (0 bytes)." in words(ran)


# Paths


def test_a_path_in_nobodys_drop_folder_is_wrong_usage(home: Home) -> None:
    """The drop folders that there are are named; so is a path that is not there."""
    for path in (home.root, home.out(), home.drop("juno"), Path("/nowhere/stack.jpg")):
        ran = trace(home, path)
        assert ran.status == USAGE
        assert f"{path} is not in a drop folder" in ran.errors
        assert f"{home.drop()} (ida)" in ran.errors
    ran = trace(home, home.drop() / "stack.jpg")
    assert ran.status == USAGE
    assert "stack.jpg is not there" in ran.errors
    assert run(home, "trace").status == USAGE


def test_a_path_may_lead_over_links_to_the_drop_folder(home: Home) -> None:
    """An owner may name a file by a way that the config does not."""
    save_jpeg(home.drop() / "stack@club.jpg", 3000, 2000)
    (home.root / "way").symlink_to(home.drop())

    ran = trace(home, home.root / "way" / "stack@club.jpg")
    assert (ran.status, "club: 1620 × 1080 pixels" in ran.output) == (0, True)


def test_it_works_while_the_service_runs(home: Home) -> None:
    """Beside a running service the ledger is only read, and what it has just delivered is known."""
    original = save_jpeg(home.drop() / "stack@club.jpg", 3000, 2000)
    with watching(home) as service:
        service.until(home.delivered, "the delivery")
        service.until(lambda: "Done: nothing would be made" in words(run(home, "trace", original)), "its end")
        assert service.stop() == 0
