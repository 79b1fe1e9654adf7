"""Which metadata of public test pictures travel, by field and policy; exiftool's new warnings; doubts; what is held.

Run it with ``python -m tests.benchmarks.metadata [--source DIR] [--json FILE] [--rows FILE] [FOLDER ...]``.

It takes the demo inbox, folders of ``../shared/data``, pictures of installed packages, and those of each FOLDER. A
FOLDER takes the place of a set of its name. Of equal files the first counts. The real ``sweep`` delivers all of them
for each policy: once with own rights data, once without. ``--source`` runs the code of another checkout, so that you
can compare two versions by what ``--json`` saves. ``--rows`` writes a line of JSON for each delivery: every field that
is not the same, and every warning that the original does not have.

exiftool reads originals and deliveries. The tables show in how many deliveries a field is the same/changed/gone, and
behind + in how many it stands although the original has none. Spaces around a text make no difference, nor does a list
of one thing. A JPEG has no texts as a PNG has: such a text is the same where it stands in any field.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from tests.benchmarks.fields import FATES, FIELDS, PATTERNS, Tags, compared, fields_in, warnings_in
from tests.support.outside import DATA

ROOT = Path(__file__).resolve().parents[2]
SITE, SHARE = Path(sysconfig.get_path("purelib")), Path("/usr/share")
OUTSIDE = ("metadata", "small", "photos", "orientation")
PACKAGES = {
    "scikit-image": (SITE, "skimage/data/*"),
    "scikit-learn": (SITE, "sklearn/datasets/images/*"),
    "matplotlib": (SITE, "matplotlib/mpl-data/sample_data/*"),
    "scipy": (SITE, "scipy/**/tests/**/*"),
    "colour-science": (SITE, "colour/**/resources/*"),
    "imageio": (SITE, "imageio/**/*"),
    "pillow": (SITE, "PIL/**/*"),
    "backgrounds": (SHARE, "backgrounds/**/*"),
    "wallpapers": (SHARE, "wallpapers/**/*"),
    "examples": (SHARE, "doc/*/examples/**/*"),
}
"""Where packages that may be installed keep pictures."""

ENDINGS = {".jpg", ".jpeg", ".jpe", ".tif", ".tiff", ".png", ".webp"}
LEAST_EDGE, MOST_BYTES = 64, 60_000_000
"""Pictures of packages that are smaller are icons."""

POLICIES = {
    "whole": 'metadata = "whole"',
    "rights": 'metadata = "rights"',
    "bare": 'metadata = "bare"',
    "place": 'metadata = "whole"\nkeep_location = true',
}
SERIALS = {"serials": 'metadata = "whole"\nkeep_serials = true'}
"""A policy that not every version has."""

PASSES = {
    "own": 'creator = "Ida Marrow"\ncopyright = "© {year} Ida Marrow"\ncontact = "ida@skerrow.example"',
    "none": "",
}
LARGE = "2 megapixels and more"
KINDS = ("doubts", "notes")
"""The kinds of remarks in a record; not every version has notes."""

MOST_TEXTS = 25

Figures = dict[str, Any]


@dataclass(frozen=True, kw_only=True, slots=True)
class Original:
    """A test picture, and what it is called in the drop folder."""

    of: str  #: The set that it is of.
    path: Path
    label: str  #: Its path in the set.
    name: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Delivered:
    """A delivery and its original, as exiftool reads them."""

    original: Original
    policy: str
    record: Mapping[str, Any]
    fates: Mapping[str, str]
    warnings: frozenset[str]  #: That the original does not have.
    differs: Mapping[str, tuple[Tags, Tags]]  #: The fields that are not the same.

    @property
    def is_large(self) -> bool:
        """Whether the original has 2 megapixels and more."""
        file = self.record["original_file"] or {}
        return bool((file.get("width") or 0) * (file.get("height") or 0) >= 2_000_000)


# Pictures


def pictures_of(folders: Iterable[Path]) -> Iterator[tuple[str, Path, Path]]:
    """Yield every picture with its set's name and folder."""
    places = {"demo": ROOT / "demo_inbox"} | {name: DATA / name for name in OUTSIDE}
    for name, folder in (places | {folder.name: folder for folder in folders}).items():
        yield from ((name, folder, path) for path in sorted(folder.rglob("*")) if is_picture(path))
    for name, (folder, pattern) in PACKAGES.items():
        found = sorted(path for path in folder.glob(pattern) if is_picture(path) and is_large(path))
        yield from ((f"package {name}", folder, path) for path in found)


def is_picture(path: Path) -> bool:
    """Return whether a path is that of a picture of sensible size."""
    return path.suffix.lower() in ENDINGS and path.is_file() and path.stat().st_size < MOST_BYTES


def is_large(path: Path) -> bool:
    """Return whether a picture is larger than icons are."""
    try:
        with Image.open(path) as image:
            return min(image.size) >= LEAST_EDGE
    except (OSError, Image.DecompressionBombError):
        return False


def originals_of(folders: Iterable[Path]) -> tuple[list[Original], int]:
    """Return the test pictures, and how many were left out since another has the same bytes."""
    found: dict[str, Original] = {}
    number = 0
    for number, (name, folder, path) in enumerate(pictures_of(folders), 1):
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        label, called = str(path.relative_to(folder)), f"{number:05d}{path.suffix.lower()}"
        found.setdefault(digest, Original(of=name, path=path, label=label, name=called))
    return list(found.values()), number - len(found)


# Deliveries


def config_of(rights: str, policies: Mapping[str, str]) -> str:
    """Return a config with a destination for each policy."""
    head = 'state = "state"\nsettle_seconds = 0.1\nworkers = 1\nattempts = 1\nlog = "json"'
    destinations = (
        f'[destinations.{name}]\nfolder = "out/{name}"\nsize = {{ long_edge = 400 }}\n{lines}'
        for name, lines in policies.items()
    )
    photographer = f'[photographers.ida]\ndrop = "drop"\notherwise = {json.dumps(list(policies))}\n{rights}'
    return "\n\n".join([f"[service]\n{head}", photographer, *destinations]) + "\n"


def run(source: Path, *arguments: str) -> str:
    """Return what a command of the code in *source* prints."""
    environment = {**os.environ, "PYTHONPATH": str(source / "service")}
    command = [sys.executable, "-m", "lanternslide", *arguments]
    done = subprocess.run(command, env=environment, capture_output=True, check=False)
    if done.returncode not in {0, 1, 3}:
        sys.exit(done.stderr.decode()[-2000:])
    return done.stdout.decode()


def swept(root: Path, source: Path, policies: Mapping[str, str], rights: str) -> list[dict[str, Any]]:
    """Deliver what lies in the drop folder, and return the records."""
    config = root / "lanternslide.toml"
    config.write_text(config_of(rights, policies), "utf-8")
    for name in ("out", "state"):
        shutil.rmtree(root / name, ignore_errors=True)
    (root / "out").mkdir()
    run(source, "--config", str(config), "sweep")
    return [json.loads(line) for line in run(source, "--config", str(config), "history", "--json").splitlines()]


def policies_of(source: Path) -> dict[str, str]:
    """Return the policies that the code in *source* knows."""
    reference = (source / "config" / "reference.toml").read_text("utf-8")
    return POLICIES | (SERIALS if "keep_serials" in reference else {})


# Figures


def deliveries_of(records: list[dict[str, Any]], originals: Mapping[str, Original], drop: Path) -> list[Delivered]:
    """Return every delivery beside its original."""
    made = [record for record in records if record["state"] == "delivered"]
    before, after = [drop / name for name in originals], [Path(record["output"]) for record in made]
    fields, warnings = fields_in(before) | fields_in(after), warnings_in(before) | warnings_in(after)
    found = []
    for record, output in zip(made, after, strict=True):
        original = originals[Path(record["original"]).name]
        fates, differs = compared(fields[drop / original.name], fields[output])
        found.append(
            Delivered(
                original=original, policy=record["destination"], record=record, fates=fates, differs=differs,
                warnings=warnings[output] - warnings[drop / original.name],
            )
        )  # fmt: skip
    return found


def opening(text: str) -> str:
    """Return how a remark begins: up to what is told of one picture, and without its numbers."""
    beginning = re.split(r" [(“]|[:;.] |\.$", text, maxsplit=1)[0]
    return re.sub(r"\d[\d.,]*( %)?", "#", beginning)[:100]


def shares(deliveries: list[Delivered], policies: Iterable[str], holds: Callable[[Delivered], object]) -> Figures:
    """Return of how many deliveries something holds, and how many there are, for each policy and for pictures."""
    found = {name: [one for one in deliveries if one.policy == name] for name in policies}
    counts = {name: [sum(bool(holds(one)) for one in some), len(some)] for name, some in found.items()}
    pictures = {one.original for one in deliveries if holds(one)}, {one.original for one in deliveries}
    return counts | {"pictures": [len(some) for some in pictures]}


def tally(deliveries: list[Delivered], texts_of: Callable[[Delivered], Iterable[str]]) -> dict[str, Counter[str]]:
    """Return in how many deliveries of each policy a text stands, the commonest first."""
    found: dict[str, Counter[str]] = {}
    for one in deliveries:
        for text in set(texts_of(one)):
            found.setdefault(text, Counter())[one.policy] += 1
    return dict(sorted(found.items(), key=lambda item: (-item[1].total(), item[0])))


def remarks(deliveries: list[Delivered], policies: Iterable[str], kind: str) -> Figures:
    """Return the figures of doubts, or of another *kind* of remark: by set, and of large pictures."""
    large = [one for one in deliveries if one.is_large]
    groups = {"all": deliveries, LARGE: large}
    for one in deliveries:
        groups.setdefault(one.original.of, []).append(one)

    def openings(one: Delivered) -> set[str]:
        return {opening(text) for text in one.record.get(kind, ())}

    return {
        "shares": {name: shares(some, policies, openings) for name, some in groups.items()},
        "texts": tally(deliveries, openings),
        "texts of large ones": tally(large, openings),
    }


def figures_of(
    records: list[dict[str, Any]], deliveries: list[Delivered], originals: Mapping[str, Original], policies: list[str]
) -> Figures:
    """Return the figures of one pass."""
    held = {Path(record["original"]).name: record["reason"] for record in records if record["state"] == "held"}
    jpegs = [one for one in deliveries if one.original.name.endswith((".jpg", ".jpeg", ".jpe"))]
    fates = {
        label: {
            name: {
                fate: sum(one.policy == name and one.fates.get(label) == fate for one in deliveries) for fate in FATES
            }
            for name in policies
        }
        for label in PATTERNS
    }
    return {
        "policies": policies,
        "held": Counter(f"{originals[name].of}: {opening(reason)}" for name, reason in held.items()),
        "silent": len(originals.keys() - {Path(record["original"]).name for record in records}),
        "fields": fates,
        "warnings": {
            "shares": {
                name: shares(some, policies, lambda one: one.warnings)
                for name, some in (("all", deliveries), ("of JPEG", jpegs))
            },
            "texts": tally(deliveries, lambda one: one.warnings),
        },
        **{kind: remarks(deliveries, policies, kind) for kind in KINDS},
    }


# Printing


def table(title: str, columns: Iterable[str], rows: Mapping[str, Iterable[object]]) -> None:
    """Print a table, if it has any rows."""
    width = max([len(title), 34, *map(len, rows)])
    for name, cells in ((title, columns), *rows.items()) if rows else ():
        print(f"{name:{width}s}" + "".join(f"{cell!s:>14s}" for cell in cells))
    print()


def print_fields(figures: Figures) -> None:
    """Print what became of each field."""
    for group, labels in FIELDS.items():
        rows = {}
        for label in labels:
            fates = list(figures["fields"][label].values())
            cells = ["{same}/{changed}/{gone}+{added}".format_map(fate) for fate in fates]
            rows[label] = [sum(fates[0][fate] for fate in FATES[:3]), *cells]
        table(group, ["originals", *figures["policies"]], rows)


def print_counts(title: str, figures: Figures) -> None:
    """Print of how many deliveries and pictures something holds, and the texts that say so."""
    columns = [*figures["policies"], "pictures"]
    rows = {
        name: [f"{some}/{all_}" for some, all_ in cells.values()] for name, cells in figures[title]["shares"].items()
    }
    table(f"{title}: with any / all", columns, rows)
    for name in [key for key in figures[title] if key != "shares"]:
        texts = list(figures[title][name].items())[:MOST_TEXTS]
        counts = {text: [count[policy] for policy in figures["policies"]] for text, count in texts}
        table(f"{title}: {name}", figures["policies"], counts)


def print_pass(figures: Figures) -> None:
    """Print the figures of one pass."""
    print_fields(figures)
    for title in ("warnings", *KINDS):
        if figures[title]["texts"]:
            print_counts(title, figures)
    table(f"held: {figures['held'].total()}; neither held nor delivered: {figures['silent']}", ["originals"],
          {reason: [count] for reason, count in figures["held"].most_common()})  # fmt: skip


def rows_of(name: str, deliveries: Iterable[Delivered]) -> Iterator[str]:
    """Yield a line of JSON for each delivery of a pass, with what is not the same."""
    for one in deliveries:
        yield json.dumps(
            {
                "pass": name, "policy": one.policy, "set": one.original.of, "original": one.original.label,
                "differs": {label: [one.fates[label], *pair] for label, pair in one.differs.items()},
                "warnings": sorted(one.warnings), **{kind: one.record.get(kind, []) for kind in KINDS},
            }, ensure_ascii=False,
        )  # fmt: skip


def main() -> None:
    """Deliver, compare, print and save."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", type=Path, nargs="*", metavar="FOLDER")
    parser.add_argument("--source", type=Path, default=ROOT)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--rows", type=Path)
    arguments = parser.parse_args()
    source = arguments.source.resolve()
    chosen, same = originals_of(folder.resolve() for folder in arguments.folders)
    originals, policies = {original.name: original for original in chosen}, policies_of(source)
    sets = Counter(original.of for original in chosen)
    version = run(source, "--version").strip()
    print(f"{version}; {len(chosen)} originals, and {same} that are the same as another")
    print(", ".join(f"{name} {number}" for name, number in sets.items()), flush=True)
    saved: Figures = {"version": version, "sets": sets, "same": same, "passes": {}}
    lines: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "drop").mkdir()
        for original in chosen:
            shutil.copyfile(original.path, root / "drop" / original.name)
        for name, rights in PASSES.items():
            started = time.perf_counter()
            records = swept(root, source, policies, rights)
            deliveries = deliveries_of(records, originals, root / "drop")
            figures = figures_of(records, deliveries, originals, list(policies))
            saved["passes"][name] = figures
            lines += rows_of(name, deliveries)
            seconds = time.perf_counter() - started
            print(f"\n## Own rights data: {name}; {len(deliveries)} deliveries in {seconds:.0f} s\n")
            print_pass(figures)
    if arguments.json:
        arguments.json.write_text(json.dumps(saved, ensure_ascii=False, indent=1), "utf-8")
    if arguments.rows:
        arguments.rows.write_text("".join(f"{line}\n" for line in lines), "utf-8")


if __name__ == "__main__":
    main()
