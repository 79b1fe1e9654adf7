"""The unit tests mirror the packages: you find a module's tests by its name, or in the list below. Pages are true."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import lanternslide

TESTS = Path(__file__).parents[1]
PACKAGE = Path(lanternslide.__file__).parent
BRANCHES = (ast.If, ast.IfExp, ast.Match, ast.While, ast.Try, ast.BoolOp)

ELSEWHERE = {
    "cli/asking": "acceptance/test_commands",
    "cli/commands/check": "acceptance/test_check",
    "cli/commands/history": "acceptance/test_history",
    "cli/commands/init": "acceptance/test_init",
    "cli/commands/install": "acceptance/test_install",
    "cli/main": "acceptance/test_help",
    "cli/questions": "acceptance/test_init",
    "cli/output/rehearsal": "acceptance/test_older",
    "cli/commands/ringaround": "acceptance/test_ringaround",
    "cli/commands/status": "acceptance/test_check",
    "cli/commands/sweep": "acceptance/test_commands",
    "cli/commands/trace": "acceptance/test_trace",
    "cli/commands/uninstall": "booted/test_installed",
    "cli/commands/watch": "acceptance/test_watch",
    "repair/recognition": "faults/test_damage",
    "cli/commands/repair": "faults/test_damage",
    "workers/pool": "integration/test_executors",
    "daemon/pausing": "faults/test_state_away",
    "daemon/service": "acceptance/test_watch",
    "workers/cluster/registry": "cluster/test_trust",
    "workers/cluster/engine": "integration/test_executors",
    "workers/cluster/orders": "integration/test_executors",
    "workers/cluster/remote": "cluster/test_trust",
    "workers/cluster/visit": "cluster/test_sweep",
    "imaging/measuring/closeup": "unit/imaging/measuring/test_proof",
    "imaging/colour/to_srgb": "reference/test_colour",
    "imaging/measuring/delta_e": "reference/test_delta_e",
    "imaging/encode": "reference/test_ssim",
    "imaging/colour/colour_management": "reference/test_engine",
    "imaging/colour/icc_read": "reference/test_colour",
    "imaging/kernels": "reference/test_kernels",
    "imaging/colour/linear": "reference/test_linear_light",
    "imaging/measuring/measure": "reference/test_measure",
    "config/checks/mends": "unit/config/checks/test_syntax",
    "metadata/agreement": "reference/test_metadata_written",
    "metadata/carry": "reference/test_metadata_policies",
    "metadata/geometry": "reference/test_metadata_written",
    "metadata/mandatory": "reference/test_metadata_written",
    "metadata/source": "reference/test_metadata_reading",
    "metadata/wishes": "unit/worker/test_encoding",
    "metadata/writing": "reference/test_metadata_written",
    "metadata/data": "reference/test_metadata",
    "metadata/whose/names": "unit/metadata/whose/test_claims",
    "metadata/files/extra_kinds": "unit/metadata/files/test_extras",
    "metadata/files/extras_in_jpeg": "unit/metadata/files/test_extras",
    "metadata/files/containers": "reference/test_metadata_reading",
    "metadata/files/resources": "reference/test_metadata_reading",
    "metadata/xmp/packets": "reference/test_metadata_xmp",
    "metadata/reading": "reference/test_metadata",
    "metadata/whose/rights": "reference/test_metadata_rights",
    "metadata/xmp/tree": "reference/test_metadata_xmp",
    "imaging/reading/orientation": "reference/test_files",
    "imaging/colour/png_colour": "reference/test_png_colour",
    "imaging/measuring/posterised": "reference/test_findings",
    "imaging/reading/read": "reference/test_files",
    "imaging/reading/read_jpeg": "reference/test_files",
    "imaging/reading/read_vips": "reference/test_files",
    "imaging/recompress": "reference/test_ssim",
    "imaging/reading/remarks": "reference/test_odd_pictures",
    "imaging/resample": "reference/test_kernels",
    "imaging/measuring/details": "acceptance/test_ringaround",
    "imaging/sharpen": "reference/test_sharpening",
    "imaging/reading/source": "reference/test_files",
    "imaging/measuring/ssim": "reference/test_ssim",
    "imaging/tone": "reference/test_owner",
    "imaging/watermark": "reference/test_watermark",
    "imaging/colour/working_space": "reference/test_colour",
}
"""Modules that decide something and have no unit tests of their own: which tests hold them to account instead."""


OF_NO_MODULE = {
    "benchmarks", "scenario", "windows",
    "cli/test_crash.py", "config/test_any_config.py", "ledger/test_growth.py", "ledger/test_ledger_states.py",
    "test_mirror.py", "words/test_words.py",
}  # fmt: skip
"""Unit tests of a whole package, or of what is no part of the service."""


def decides(path: Path) -> bool:
    """Return whether a module has a function that goes one way or another."""
    functions = (
        node
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    )
    return any(isinstance(node, BRANCHES) for function in functions for node in ast.walk(function))


def unit_file(module: str) -> Path:
    """Return where the unit tests of a module lie."""
    path = Path(module)
    return TESTS / "unit" / path.parent / f"test_{path.name}.py"


def test_every_module_that_decides_has_tests_that_are_found_by_its_name() -> None:
    """Or it stands in the list of those that are tested elsewhere, which names a file that is there."""
    deciding = {
        path.relative_to(PACKAGE).with_suffix("").as_posix()
        for path in PACKAGE.rglob("*.py")
        if path.stem != "__init__" and decides(path)
    }
    own = {module for module in deciding if unit_file(module).is_file()}

    assert deciding - own - ELSEWHERE.keys() == set()
    assert ELSEWHERE.keys() - (deciding - own) == set(), "listed, and not needed"
    assert {name for name in ELSEWHERE.values() if not (TESTS / f"{name}.py").is_file()} == set()


def test_every_file_of_unit_tests_has_a_module_of_its_name() -> None:
    """Whoever renames a module renames its tests; the others are listed."""
    listed = {TESTS / f"{name}.py" for name in ELSEWHERE.values()}
    found = [path for path in (TESTS / "unit").rglob("test_*.py") if path not in listed]
    without = set()
    for path in found:
        inside = path.relative_to(TESTS / "unit")
        if not {inside.as_posix(), inside.parts[0]} & OF_NO_MODULE:
            without.add(inside.with_name(f"{path.stem.removeprefix('test_')}.py"))
    assert {module.as_posix() for module in without if not (PACKAGE / module).is_file()} == set()


def test_developers_are_told_of_files_that_are_there() -> None:
    """Every module and test that DEVELOPERS.md and DECISIONS.md name, and every package that the first one explains."""
    root = TESTS.parent
    there = {path.relative_to(root).as_posix() for path in (*PACKAGE.rglob("*.py"), *TESTS.rglob("*.py"))}
    for page in ("DEVELOPERS.md", "service/DECISIONS.md"):
        around = ""  # the package that a paragraph is about
        for line in (root / page).read_text("utf-8").splitlines():
            around = next(iter(re.findall(r"\*\*`(\w+)`\*\*", line)), around if line.startswith(" ") else "")
            for name in re.findall(r"`([\w/]+\.py)(?:: \w+(?:\.\w+)?)?`", line):
                found = [path for path in there if f"/{path}".endswith(f"/{name}")]
                meant = [path for path in found if f"/lanternslide/{around}/" in path] if around else []
                is_clear = len(found) == 1 or len(meant) == 1 or name.startswith("test_") or name == "__init__.py"
                assert found, (page, line)
                assert is_clear, (page, line, found)
    packages = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").is_file()}
    explained = set(re.findall(r"\*\*`(\w+)`\*\*", (root / "DEVELOPERS.md").read_text("utf-8")))
    assert explained <= packages
    assert packages - explained == {"cli", "records", "report", "words"}
