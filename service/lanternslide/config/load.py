"""Finding and loading a config; every fault is reported at once, each with its key and what is allowed."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import partial
from pathlib import Path
from typing import Any

import platformdirs
from pydantic import ValidationError

from lanternslide.config.checks.faults import PlacedFault, faults_of
from lanternslide.config.checks.syntax import Slip, decode, slip_in
from lanternslide.config.checks.tables import Place
from lanternslide.config.checks.whole import Overridden, check_whole, no_destination
from lanternslide.config.settings import Destination, Photographer, Settings
from lanternslide.errors import ConfigError, ConfigFault
from lanternslide.words import ConfigWord, say, told

__all__ = ["CONFIG_NAME", "find_config", "load_settings"]

CONFIG_NAME = "lanternslide.toml"


def find_config(named: Path | None, environment: Mapping[str, str]) -> Path:
    """Return the config to use: *named*, ``$LANTERNSLIDE_CONFIG``, ``./lanternslide.toml``, the user's.

    Raises
    ------
    ConfigError
        If nothing is named and there is none in the usual places.
    """
    if named is not None:
        return named
    if environment.get("LANTERNSLIDE_CONFIG"):
        return Path(environment["LANTERNSLIDE_CONFIG"])
    usual = (Path(CONFIG_NAME), Path(platformdirs.user_config_dir("lanternslide")) / CONFIG_NAME)
    for path in usual:
        if path.is_file():
            return path
    for path in usual:
        if (text := path.with_name(f"{path.name}.txt")).is_file():  # an editor has added it, and Windows hides it
            raise ConfigError([ConfigFault.of("", "", ConfigWord.TXT_ENDING, found=text, right=path.name)])
    looked = ", ".join(str(path) for path in usual)
    raise ConfigError([ConfigFault.of("", "", ConfigWord.NO_FILE, looked=looked)])


def load_settings(path: Path) -> Settings:
    """Return the settings in the TOML file *path*.

    Raises
    ------
    ConfigError
        With every fault of the file.
    """
    file = str(path)
    raw = _read_toml(path)
    context = {"base": path.absolute().parent}
    if nameless := list(_nameless(file, raw)):
        raise ConfigError(nameless)
    try:
        settings, faults = _validate(file, raw, context)
    except RecursionError as error:
        raise _absurd(path) from error
    named = tuple(_table(raw, "destinations"))
    overridden, of_overrides = _apply_overrides(file, raw, settings, context)
    faults += of_overrides
    faults += check_whole(file, settings, overridden, named)
    # Where a heading is misspelt, what would be below the right one is not missing.
    is_misspelt = any(fault.said.key == ConfigWord.HEADING for fault in faults)
    if is_misspelt:
        faults = [fault for fault in faults if fault.said.key != ConfigWord.NO_SUCH_DESTINATION]
    if not raw.get("photographers", {}) and not is_misspelt:
        faults.append(ConfigFault.of(file, "photographers", ConfigWord.NOBODY))
    if not raw.get("destinations", {}) and not is_misspelt:
        faults.append(ConfigFault.of(file, "destinations", ConfigWord.NOWHERE))
    if faults:
        raise ConfigError(sorted(faults, key=lambda fault: fault.key))
    settings._overridden.update(overridden)  # noqa: SLF001 - filled once, here
    return settings


def _nameless(file: str, raw: dict[str, Any]) -> Iterator[ConfigFault]:
    """Yield the headings that lack a name: keys stand where names should."""
    for table, example, model in (("photographers", "ida", Photographer), ("destinations", "portfolio", Destination)):
        keys = {key for key, value in _table(raw, table).items() if not isinstance(value, dict)}
        if keys & model.model_fields.keys():
            yield ConfigFault.of(file, table, ConfigWord.HEADING_WITHOUT_NAME, table=table, example=example)


def _table(raw: dict[str, Any], key: str) -> dict[str, Any]:
    table = raw.get(key)
    return table if isinstance(table, dict) else {}


def _validate(file: str, raw: dict[str, Any], context: dict[str, Path]) -> tuple[Settings, list[ConfigFault]]:
    """Return the settings without their faulty parts, and the faults, so that the rest can be checked too."""
    sound = deepcopy(raw)
    faults: list[ConfigFault] = []
    left_out: set[Place] = set()
    while True:
        try:
            return Settings.model_validate(sound, context=context), faults
        except ValidationError as error:
            found = faults_of(file, sound, error.errors())
        # Leaving a faulty key out can make the table around it faulty; that is no fault of the owner's.
        faults += [
            item.fault for item in found if not any(place[: len(item.place)] == item.place for place in left_out)
        ]
        left_out |= {item.place for item in found}
        before = deepcopy(sound)
        for item in found:
            _leave_out(sound, item.place)
        if sound == before:  # nothing more can be left out, so nothing more can be found
            raise ConfigError(faults)


def _leave_out(raw: dict[str, Any], place: Place) -> None:
    """Delete the key at *place*, or the nearest table around it that is there."""
    *outer, last = place
    table = raw
    for part in outer:
        if not isinstance(table.get(str(part)), dict):
            table.pop(str(part), None)
            return
        table = table[str(part)]
    table.pop(str(last), None)


def _read_toml(path: Path) -> dict[str, Any]:
    try:
        text = decode(path.read_bytes())
    except OSError as error:
        detail = told(error)
        raise ConfigError([ConfigFault.of(str(path), "", ConfigWord.NOT_READABLE, detail=detail)]) from error
    if isinstance(text, Slip):
        raise ConfigError([_fault(path, text)])
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError([_fault(path, slip_in(text, error, partial(_takes, path)))]) from error
    except (ValueError, RecursionError) as error:  # a number or a nesting that nobody has written by hand
        raise _absurd(path) from error


def _absurd(path: Path) -> ConfigError:
    detail = "a number in it is too long, or a table is nested too deeply"
    return ConfigError([ConfigFault.of(str(path), "", ConfigWord.NOT_READABLE, detail=detail)])


def _takes(path: Path, text: str, key: str) -> bool:
    """Return whether a config may have the value that *key* has in the last line of *text*, its beginning."""
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError):  # another slip before it, or a heading that stands twice
        return False
    try:
        _, faults = _validate(str(path), raw, {"base": path.absolute().parent})
    except ConfigError as error:
        faults = list(error.faults)
    return not any(key in fault.key.split(".") for fault in faults if fault.said.key != ConfigWord.MISSING_KEY.value)


def _fault(path: Path, slip: Slip) -> ConfigFault:
    key = "" if slip.line is None else f"line {slip.line}"
    return ConfigFault(file=str(path), key=key, said=say(slip.word, **slip.places), excerpt=slip.excerpt)


def _apply_overrides(
    file: str, raw: dict[str, Any], settings: Settings, context: dict[str, Path]
) -> tuple[Overridden, list[ConfigFault]]:
    """Return each overridden destination, validated as a whole, and the faults in them."""
    overridden: Overridden = {}
    faults: list[ConfigFault] = []
    for owner, photographer in settings.photographers.items():
        for name, changes in photographer.overrides.items():
            place = ("photographers", owner, "overrides", name)
            if name not in _table(raw, "destinations"):
                key = ".".join(place)
                faults.append(no_destination(file, key, name, tuple(_table(raw, "destinations"))))
            elif name in settings.destinations:
                merged = {**raw["destinations"][name], **changes}
                try:
                    overridden[owner, name] = Destination.model_validate(merged, context=context)
                except ValidationError as error:
                    faults += [item.fault for item in _in_destination(file, place, merged, error)]
    return overridden, faults


def _in_destination(file: str, place: Place, merged: dict[str, Any], error: ValidationError) -> list[PlacedFault]:
    here: Place = ("destinations", str(place[-1]))
    details = error.errors()
    for detail in details:
        detail["loc"] = (*here, *detail["loc"])
    around = {"destinations": {place[-1]: merged}}
    return faults_of(file, around, details, shown_as=place, instead_of=here)
