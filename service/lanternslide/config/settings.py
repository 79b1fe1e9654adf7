"""The settings model: every key of the config, frozen. Tables that a worker needs too are in `records.recipe`.

Each field's description says what is allowed, in words that stand in an error message after "Allowed:".
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PrivateAttr, model_validator

from lanternslide.config.fields import Bytes, DeliveryName, FileMode, FolderPattern, Names, fill_folder
from lanternslide.records import Recompression, Sharpening, Watermark
from lanternslide.records.recipe import AS_CONFIG
from lanternslide.records.values import Chroma, Flag, Folder, Number, Pixels, Text, Whole, not_taken
from lanternslide.words import ConfigWord

__all__ = [
    "Cluster",
    "Destination",
    "Photographer",
    "Service",
    "Settings",
    "Size",
    "Tone",
]

Auto = Literal["auto"]
SIZE_RULES = ("long_edge", "short_edge", "width", "height", "box", "area")
NAME_ALLOWED = "a to z, A to Z, digits, _ and - (not first), at most 64"
NAME_PATTERN = r"^[A-Za-z0-9_][A-Za-z0-9_-]{0,63}$"
NamePattern = Annotated[str, Field(pattern=NAME_PATTERN)]


def _different(values: tuple[float, ...]) -> tuple[float, ...]:
    if len(set(values)) != len(values):
        raise ValueError
    return values


Densities = Annotated[
    tuple[Annotated[Number, Field(ge=1, le=4)], ...],
    Field(min_length=1, max_length=4),
    AfterValidator(_different),
]


class Frozen(BaseModel):
    """A part of the config: unknown keys are faults, and nothing changes after loading."""

    model_config = ConfigDict(frozen=True, allow_inf_nan=False, **AS_CONFIG)


class Service(Frozen):
    """How the service runs."""

    state: Folder | None = Field(None, description="a folder for the ledger and work files")
    workers: Auto | Annotated[Whole, Field(ge=1, le=256)] = Field("auto", description='"auto", or 1 to 256')
    memory: Auto | Bytes = Field("auto", description='"auto", or a size with its unit, such as "4 GiB"')
    settle_seconds: Auto | Annotated[Number, Field(ge=0.1, le=3600)] = Field(
        "auto", description='"auto", or 0.1 to 3600 seconds'
    )
    watch: Literal["auto", "events", "poll"] = Field("auto", description='"auto", "events" or "poll"')
    scan_seconds: Auto | Annotated[Number, Field(ge=1, le=86400)] = Field(
        "auto", description='"auto", or 1 to 86400 seconds'
    )
    job_timeout_seconds: Auto | Annotated[Number, Field(ge=10)] = Field(
        "auto", description='"auto", or 10 seconds or more'
    )
    grace_seconds: Annotated[Number, Field(ge=0, le=3600)] = Field(30, description="0 to 3600 seconds")
    attempts: Annotated[Whole, Field(ge=1, le=100)] = Field(3, description="1 to 100")
    max_megapixels: Annotated[Number, Field(ge=1, le=10_000)] = Field(1000, description="1 to 10000 megapixels")
    unknown_names: Literal["hold", "keep"] = Field("hold", description='"hold" or "keep"')
    log: Literal["auto", "console", "json"] = Field("auto", description='"auto", "console" or "json"')
    executor: Annotated[str, Field(pattern=r"^(local|dask(\+tls)?://[^\s/:]+:[0-9]{1,5})$")] = Field(
        "local", description='"local", "dask://HOST:PORT" or "dask+tls://HOST:PORT"'
    )
    proofs_keep_days: Annotated[Whole, Field(ge=1)] = Field(90, description="1 day or more")


class Size(Frozen):
    """How large a picture is shown: exactly one rule."""

    long_edge: Pixels | None = Field(None, description="pixels, 16 to 100000")
    short_edge: Pixels | None = Field(None, description="pixels, 16 to 100000")
    width: Pixels | None = Field(None, description="pixels, 16 to 100000")
    height: Pixels | None = Field(None, description="pixels, 16 to 100000")
    box: tuple[Pixels, Pixels] | None = Field(None, description="[width, height] in pixels, 16 to 100000 each")
    area: Annotated[Number, Field(ge=0.001, le=10_000)] | None = Field(None, description="megapixels, 0.001 to 10000")
    enlarge: Flag = Field(False, description="true or false")

    @model_validator(mode="after")
    def _one_rule(self) -> Self:
        if sum(getattr(self, rule) is not None for rule in SIZE_RULES) != 1:
            raise not_taken(ConfigWord.SIZE_RULE)
        return self


class Tone(Frozen):
    """The owner's own correction."""

    brightness: Annotated[Number, Field(ge=-20, le=20)] = Field(0, description="-20 to 20, in L*")
    contrast: Annotated[Number, Field(ge=-50, le=50)] = Field(0, description="-50 to 50 per cent")


class Destination(Frozen):
    """A place where pictures are seen, and how pictures are prepared for it."""

    folder: FolderPattern = Field(description="a folder; it may hold {photographer}")
    tags: Names | None = Field(None, description="a list of names")
    subfolders: Names | None = Field(None, description="a list of names")
    size: Size = Field(description="a table with exactly one of long_edge, short_edge, width, height, box or area")
    densities: Densities = Field((1,), description="a list of 1 to 4 different numbers from 1 to 4")
    name: DeliveryName = Field(
        "{stem}.jpg",
        description="a pattern of {stem}, {photographer}, {destination}, {width}, {height}, {date}, {year}, with .jpg",
    )
    slug: Flag = Field(False, description="true or false")
    sharpen: Auto | Literal[False] | Sharpening = Field("auto", description='"auto", false, or a table')
    tone: Tone = Field(Tone(), description="a table of brightness and contrast")
    out_of_gamut: Literal["compress", "clip"] = Field("compress", description='"compress" or "clip"')
    quality: Auto | Annotated[Whole, Field(ge=1, le=100)] = Field(90, description='1 to 100, or "auto"')
    min_ssim: Annotated[Number, Field(gt=0, lt=1)] = Field(0.98, description="more than 0 and less than 1")
    max_bytes: Bytes | None = Field(None, description='a size with its unit, such as "500 kB"')
    min_quality: Annotated[Whole, Field(ge=1, le=100)] = Field(80, description="1 to 100")
    chroma: Chroma = Field("4:4:4", description='"4:4:4", "4:2:2" or "4:2:0"')
    progressive: Flag = Field(True, description="true or false")
    metadata: Literal["whole", "rights", "bare"] = Field("whole", description='"whole", "rights" or "bare"')
    keep_location: Flag = Field(False, description="true or false")
    keep_serials: Flag = Field(False, description="true or false")
    watermark: Watermark | None = Field(None, description="a table with a text or an image")
    forecast: Recompression | None = Field(None, description="a table of long_edge, quality and chroma")
    mode: FileMode = Field("0644", description='permissions in octal with read and write for the owner: "0644"')
    manifest: Flag = Field(False, description="true or false")

    def folder_for(self, photographer: str) -> Path:
        """Return the folder that deliveries of *photographer* go to."""
        return fill_folder(self.folder, photographer)

    def fixed_folder(self) -> Path:
        """Return the folder, or its part above the one that varies with the photographer."""
        parts = self.folder.parts
        varies = next((i for i, part in enumerate(parts) if "{photographer}" in part), len(parts) - 1)
        return Path(*parts[:varies])


class Photographer(Frozen):
    """An owner: a drop folder, rights data, destinations, proof sheets."""

    drop: Folder = Field(description="a folder")
    creator: Text | None = Field(None, description="text")
    copyright: Text | None = Field(None, description="text; {year} is the capture year")
    contact: Text | None = Field(None, description="text")
    override_rights: Flag = Field(False, description="true or false")
    destinations: Names | None = Field(None, description="a list of destinations")
    otherwise: Names = Field((), description="a list of destinations")
    originals: Literal["stay"] | Folder = Field("stay", description='"stay", or a folder')
    proofs: Literal[False] | Folder = Field(False, description="false, or a folder")
    overrides: dict[str, dict[str, Any]] = Field({}, description="tables of destination keys")


class Cluster(Frozen):
    """Work on more than one machine."""

    paths: dict[str, dict[str, str]] = Field({}, description="for each host a table of paths")
    tls_ca: Folder | None = Field(None, description="a file")
    tls_cert: Folder | None = Field(None, description="a file")
    tls_key: Folder | None = Field(None, description="a file")


class Settings(Frozen):
    """The whole config."""

    service: Service = Field(Service(), description="a table")
    photographers: dict[NamePattern, Photographer] = Field({}, description="tables of photographers")
    destinations: dict[NamePattern, Destination] = Field({}, description="tables of destinations")
    cluster: Cluster | None = Field(None, description="a table")

    _overridden: dict[tuple[str, str], Destination] = PrivateAttr(default_factory=dict)

    def destination_for(self, photographer: str, name: str) -> Destination:
        """Return destination *name* as *photographer* uses it, with that photographer's overrides."""
        return self._overridden.get((photographer, name), self.destinations[name])

    def only(self, photographer: str, *, state: Path, memory: int) -> Self:
        """Return the settings of a service for *photographer* alone, with its own share of memory, in bytes."""
        return self.model_copy(
            update={
                "photographers": {photographer: self.photographers[photographer]},
                "service": self.service.model_copy(update={"state": state, "memory": memory}),
            }
        )

    def destinations_of(self, photographer: str) -> tuple[str, ...]:
        """Return the names of the destinations that *photographer* uses."""
        chosen = self.photographers[photographer].destinations
        return tuple(self.destinations) if chosen is None else chosen
