"""Everything the service says about a picture or a config, in one list for a photographer to review.

Seven lists: why an original is *held*, what is *doubtful* about a delivery that was made all the same, what may *pass*
by itself, what an owner's *command* has done, what a *check* finds, what keeps `init` from *beginning*, and what is
wrong with a *config*. Each entry is a key (stable: it stands in the ledger and in logs) and a sentence with named
places; a held reason and a passing fault also say what to do. A test holds the list against the code, so that a
sentence nobody can meet does not stay here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import PurePath
from types import MappingProxyType

__all__ = [
    "SENTENCES",
    "Beginning",
    "Check",
    "Command",
    "ConfigWord",
    "Doubt",
    "Held",
    "Passing",
    "Said",
    "Word",
    "say",
]


class Held(StrEnum):
    """Why an original is held."""

    EMPTY = "empty"
    NOT_A_PICTURE = "not-a-picture"
    CUT_SHORT = "cut-short"
    DAMAGED = "damaged"
    FOLDER_LIKE_PICTURE = "folder-like-picture"
    UNKNOWN_TAG = "unknown-tag"
    NEAR_MISS_FOLDER = "near-miss-folder"
    TAG_WITHOUT_NAME = "tag-without-name"
    NO_DESTINATION = "no-destination"
    TOO_MANY_PIXELS = "too-many-pixels"
    NEEDS_MORE_MEMORY = "needs-more-memory"
    SAMPLE_KIND = "sample-kind"
    FAILED_OFTEN = "failed-often"


class Doubt(StrEnum):
    """What an owner should know about a delivery that was made all the same."""

    NO_PROFILE = "no-profile"
    NO_INK_PROFILE = "no-ink-profile"
    BROKEN_PROFILE = "broken-profile"
    OTHER_KIND_OF_PROFILE = "other-kind-of-profile"
    DISPLAY_PROFILE = "display-profile"
    SMALLER_THAN_ASKED = "smaller-than-asked"
    DENSITY_LEFT_OUT = "density-left-out"
    TRANSPARENCY = "transparency"
    EXTRA_CHANNELS = "extra-channels"
    SMALL_FAULT = "small-fault"
    LONGEST_JPEG = "longest-jpeg"
    OTHER_PAGES = "other-pages"
    METADATA_LEFT_BEHIND = "metadata-left-behind"
    RIGHTS_LEFT_BEHIND = "rights-left-behind"
    YEAR_OF_FILE = "year-of-file"
    DATE_OF_FILE = "date-of-file"
    NAME_TAKEN = "name-taken"
    NAME_INHERITED = "name-inherited"
    OUT_OF_GAMUT = "out-of-gamut"
    OUT_OF_GAMUT_CLIPPED = "out-of-gamut-clipped"
    CLIPPED_SHADOWS = "clipped-shadows"
    CLIPPED_HIGHLIGHTS = "clipped-highlights"
    LOW_QUALITY_FOR_BYTES = "low-quality-for-bytes"
    OVER_BYTES = "over-bytes"
    UNLIKE = "unlike"
    HALO_AT_LIMIT = "halo-at-limit"
    SHARPENED_ALREADY = "sharpened-already"
    POSTERISED = "posterised"
    TAG_KEPT = "tag-kept"


class Passing(StrEnum):
    """What may pass by itself: tried again with growing pauses, for as long as it lasts."""

    DROP_FOLDER_AWAY = "drop-folder-away"
    DESTINATION_AWAY = "destination-away"
    DESTINATION_UNMOUNTED = "destination-unmounted"
    DISK_FULL = "disk-full"
    READ_ONLY = "read-only"
    DESTINATION_NOT_PERMITTED = "destination-not-permitted"
    ORIGINAL_AWAY = "original-away"
    ORIGINAL_NOT_PERMITTED = "original-not-permitted"
    FOLDER_TROUBLE = "folder-trouble"
    FILE_IN_USE = "file-in-use"
    DROP_FOLDER_SILENT = "drop-folder-silent"
    DESTINATION_SILENT = "destination-silent"
    MARK_UNREADABLE = "mark-unreadable"
    MARK_LETTERS = "mark-letters"
    STILL_WRITTEN = "still-written"
    REQUESTS = "requests"
    NOTE_IN_THE_WAY = "note-in-the-way"
    MANIFEST_IN_THE_WAY = "manifest-in-the-way"
    SHEET_IN_THE_WAY = "sheet-in-the-way"
    NO_EVENTS = "no-events"
    EVENTS_STOPPED = "events-stopped"
    WATCH_LIMIT = "watch-limit"
    INSTANCE_LIMIT = "instance-limit"
    NO_WORKERS = "no-workers"
    FILING_AWAY = "filing-away"


class ConfigWord(StrEnum):
    """What is wrong with a config."""

    NO_FILE = "no-file"
    NOT_READABLE = "not-readable"
    NOT_TOML = "not-toml"
    UNKNOWN_KEY = "unknown-key"
    MISSING_KEY = "missing-key"
    NOT_ALLOWED = "not-allowed"
    NOT_AVAILABLE = "not-available"
    SIZE_RULE = "size-rule"
    LEAD_SIZE = "lead-size"
    MARK_WHAT = "mark-what"
    NOBODY = "nobody"
    NOWHERE = "nowhere"
    NO_SUCH_DESTINATION = "no-such-destination"
    OVERLAPPING_FOLDERS = "overlapping-folders"
    SAME_TAG = "same-tag"
    SHARED_MANIFEST = "shared-manifest"
    NEEDS_RESTART = "needs-restart"
    NEEDS_STATE = "needs-state"


class Install(StrEnum):
    """What is said when the service is installed or taken away."""

    NO_SYSTEMD = "no-systemd"
    NEEDS_ROOT = "needs-root"
    NOT_FOR_ROOT = "not-for-root"
    NOT_APART = "photographers-not-apart"
    CONFIG_HIDDEN = "config-hidden"
    FILED_TOO_FAR = "filed-too-far"
    UNREACHABLE = "unreachable"
    FOLDERS_MISSING = "folders-missing"
    NO_ACCOUNT = "no-account"
    HOLDS_ONE_LEDGER = "holds-one-ledger"
    HOLDS_SEVERAL_LEDGERS = "holds-several-ledgers"
    IN_THE_WAY = "install-in-the-way"
    NOT_WRITTEN = "not-written"
    REFUSED = "install-refused"
    NOTHING_THERE = "nothing-installed"
    OTHER_KIND = "other-kind"
    ACCOUNT_STAYS = "account-stays"
    STAYS = "pictures-stay"
    LINGER = "linger"
    ONE_WAY = "one-way"
    NOT_WITH_USER = "not-with-user"
    OUTPUT_DRY = "output-dry"


class Command(StrEnum):
    """What an owner's command has done or could not do."""

    NOT_UNDERSTOOD = "not-understood"
    NO_SUCH_DESTINATION = "no-such-destination-here"
    NO_SUCH_PHOTOGRAPHER = "no-such-photographer"
    NAME_PHOTOGRAPHER = "name-photographer"
    NOT_AS_ROOT = "not-as-root"
    UNKNOWN = "unknown-original"
    RETRIED = "retried"
    RETRIED_ONE = "retried-one"
    NOTHING_TO_RETRY = "nothing-to-retry"
    WITHDRAWN = "withdrawn"
    WAS_AWAY = "was-away"
    CHANGED_STAYS = "changed-stays"
    WITHDRAWN_LATER = "withdrawn-later"
    NOTHING_STANDS = "nothing-stands"
    COULD_NOT = "could-not"
    AT_HAND = "at-hand"
    LOOKS_NOW = "looks-now"
    MADE_AGAIN = "made-again"
    LEFT_FOR_SERVICE = "left-for-service"
    IN_NO_DROP_FOLDER = "in-no-drop-folder"
    NO_PICTURE = "no-picture"
    OUTSIDE_PICTURE = "outside-picture"
    NO_PLACE_FOR_RING = "no-place-for-ring"
    NOT_THERE = "not-there"


class Check(StrEnum):
    """What a look at the surroundings finds."""

    RUNNING = "running"
    NOT_RUNNING = "not-running"
    STATE_ON_SHARE = "state-on-share"
    STATE_OPEN = "state-open"
    NO_LEDGER = "no-ledger"
    LEDGER_FINE = "ledger-fine"
    LEDGER_DAMAGED = "ledger-damaged"
    MACHINE = "machine"
    SILENT = "silent"
    DROP_FINE = "drop-fine"
    DROP_ON_SHARE = "drop-on-share"
    DROP_MISSING = "drop-missing"
    NOT_LISTED = "not-listed"
    WATCHES = "watches"
    FOLDER_FINE = "folder-fine"
    FOLDER_TO_COME = "folder-to-come"
    FOLDER_MISSING = "folder-missing"
    NOT_WRITABLE = "not-writable"
    LITTLE_ROOM = "little-room"
    FILING_FINE = "filing-fine"
    OTHER_DISK = "other-disk"


class Beginning(StrEnum):
    """Why `init` does not take an answer, or cannot go on."""

    CONFIG_THERE = "config-there"
    CONFIG_NAMED = "config-named"
    NOBODY_TO_ASK = "nobody-to-ask"
    NOT_MADE = "not-made"
    FILE_IN_THE_WAY = "file-in-the-way"
    NOT_APART = "not-apart"
    NO_HOME = "no-home"
    UNSEEN = "unseen"
    NO_NAME = "no-name"
    RESERVED_NAME = "reserved-name"
    SAME_NAME = "same-name"
    NO_EDGE = "no-edge"


Word = Held | Doubt | Passing | ConfigWord | Command | Check | Install | Beginning

SENTENCES: Mapping[Word, str] = MappingProxyType(
    {
        # Held: what is the matter, then what to do.
        Held.EMPTY: "The file is empty (0 bytes). Export or copy it again.",
        Held.NOT_A_PICTURE: ("This is not a picture that can be read: {found}. Export it as JPEG, TIFF, PNG or WebP."),
        Held.CUT_SHORT: (
            "The file ends before the picture does ({detail}). Export or copy it again; it is taken up as soon "
            "as it has changed."
        ),
        Held.DAMAGED: "The picture cannot be decoded ({detail}). Export it again.",
        Held.FOLDER_LIKE_PICTURE: (
            "This is a folder with a name that ends like a picture's, and nothing in it is looked at. "
            "Rename the folder, or take the pictures out of it."
        ),
        Held.UNKNOWN_TAG: (
            "The name asks for “@{tag}”, which is not a destination of {photographer}{near}. Nothing was "
            "published. Rename the file with one of: {known}."
        ),
        Held.NEAR_MISS_FOLDER: (
            "The folder “{folder}” is almost, but not quite, the destination “{near}”. Nothing was published. "
            "Rename the folder to “{near}”, or to something less like it."
        ),
        Held.TAG_WITHOUT_NAME: (
            "The name has tags but nothing before them. Give the picture a name, as in “grey-seal@journal.tif”."
        ),
        Held.NO_DESTINATION: (
            "Neither the name nor the folder says where this should go, and {photographer} has no `otherwise` "
            "in the config. Add a tag to the name (one of: {known}), or set `otherwise`."
        ),
        Held.TOO_MANY_PIXELS: (
            "The picture has {megapixels} megapixels; the config allows {limit} (`max_megapixels`). Raise the "
            "limit, or export it smaller."
        ),
        Held.NEEDS_MORE_MEMORY: (
            "The picture needs about {need} of memory, and the whole budget is {budget} (`memory`). Raise the "
            "budget, or export it smaller."
        ),
        Held.SAMPLE_KIND: (
            "Its pixels are {found}, and only grey, RGB and ink colours (CMYK) with 8 or 16 bits can be read. Export "
            "it as RGB with 16 bits."
        ),
        Held.FAILED_OFTEN: (
            "It was tried {attempts} times and failed each time; the last time: {detail}. Export it again; if it "
            "fails again, the log says more."
        ),
        # Doubts: what was done, and why it may matter.
        Doubt.NO_PROFILE: (
            "The original has no colour profile; sRGB was assumed. If the colours look wrong, export it with its "
            "profile embedded."
        ),
        Doubt.NO_INK_PROFILE: (
            "The original is in ink colours (CMYK) and has no colour profile; ordinary printing inks were assumed. "
            "Export it in an RGB space, or with its profile embedded."
        ),
        Doubt.BROKEN_PROFILE: (
            "The colour profile of the original cannot be used ({detail}); it was taken as if it had none. Export it "
            "with a sound profile."
        ),
        Doubt.OTHER_KIND_OF_PROFILE: (
            "The colour profile of the original is for {kind}, not for this picture; it was taken as if it had none. "
            "Export it with the right profile."
        ),
        Doubt.DISPLAY_PROFILE: (
            "The original carries the profile of a display (“{profile}”), not of a working space. Check the "
            "export settings."
        ),
        Doubt.SMALLER_THAN_ASKED: (
            "The original is {width} × {height} pixels, smaller than the destination asks for ({asked}); it was "
            "delivered at its own size, not enlarged."
        ),
        Doubt.DENSITY_LEFT_OUT: ("The @{density}x version was left out: the original is too small for it."),
        Doubt.TRANSPARENCY: "The original has transparent parts; they were filled with white.",
        Doubt.EXTRA_CHANNELS: (
            "The original has channels beside its colours, such as a saved selection; they were left out."
        ),
        Doubt.SMALL_FAULT: (
            "The file has a small fault that the picture has probably survived: bytes that do not belong there. Look "
            "at the delivery; if a part is wrong, export or copy the original again."
        ),
        Doubt.LONGEST_JPEG: (
            "A JPEG is at most {longest} pixels long, and the destination asks for more ({asked}); it was delivered at "
            "the largest size that fits."
        ),
        Doubt.OTHER_PAGES: (
            "The original holds {pages} pictures; the largest was delivered, the others were left out."
        ),
        Doubt.METADATA_LEFT_BEHIND: (
            "Metadata of the original was left behind ({detail}). Check that your name and rights are in the "
            "delivered picture."
        ),
        Doubt.RIGHTS_LEFT_BEHIND: "The destination asks for bare pictures: your rights data were left out.",
        Doubt.YEAR_OF_FILE: (
            "The picture does not say when it was taken: the year in its copyright notice ({year}) is that of its file."
        ),
        Doubt.DATE_OF_FILE: (
            "The picture does not say when it was taken: the date in its name ({date}) is that of its file."
        ),
        Doubt.NAME_TAKEN: (
            "A file that is not this picture's own already had the name “{taken}”, so this one is called "
            "“{given}”. Both are kept."
        ),
        Doubt.NAME_INHERITED: "The name belonged to another original that is gone; this one took it over.",
        Doubt.OUT_OF_GAMUT: (
            "{share} of the picture had colours that sRGB cannot show; they were brought in with their lightness "
            "and hue kept."
        ),
        Doubt.OUT_OF_GAMUT_CLIPPED: (
            "{share} of the picture had colours that sRGB cannot show; they were clipped, as the destination asks, and "
            "may have lost detail or changed their hue."
        ),
        Doubt.CLIPPED_SHADOWS: "{share} of the picture is pure black.",
        Doubt.CLIPPED_HIGHLIGHTS: "{share} of the picture is pure white.",
        Doubt.LOW_QUALITY_FOR_BYTES: "Quality had to go down to {quality} to stay under {limit}.",
        Doubt.OVER_BYTES: (
            "Even at quality {quality}, the lowest allowed, the file is {size}, over the limit of {limit}."
        ),
        Doubt.UNLIKE: (
            "At quality {quality} the likeness to the finished picture is {ssim}, under the {asked} that is asked for "
            "(min_ssim)."
        ),
        Doubt.HALO_AT_LIMIT: "Sharpening reached the halo limit; the picture may look softer than others.",
        Doubt.SHARPENED_ALREADY: (
            "The original looks as if it had been sharpened hard already, so it was sharpened less. If it was, export "
            "it without output sharpening."
        ),
        Doubt.POSTERISED: (
            "The original has 8 bits in a wide colour space and shows steps in smooth parts. Export it with 16 bits."
        ),
        Doubt.TAG_KEPT: "“@{tag}” is no destination; it was taken as part of the name.",
        # What may pass.
        Passing.DROP_FOLDER_AWAY: (
            "The drop folder {folder} is not there. It is looked for again and again; if it is on a share or an "
            "external disk, connect it."
        ),
        Passing.DESTINATION_AWAY: (
            "The folder {folder} of the destination {destination} is not there. If it is on a share or an external "
            "disk, connect it. If it was removed, make it again; if it is new, make the folder above it."
        ),
        Passing.DESTINATION_UNMOUNTED: (
            "The folder {folder} of the destination {destination} is empty, and what was mounted at {mount} is not: "
            "connect that disk or share. If pictures are to go into the empty folder from now on, put any file there."
        ),
        Passing.DISK_FULL: "There is no room left in {folder}. Free some space; nothing is lost meanwhile.",
        Passing.READ_ONLY: "{folder} can only be read at the moment. It may need to be connected again for writing.",
        Passing.DESTINATION_NOT_PERMITTED: (
            "The service may not write into {folder}. Give the service's user or group the right to write there."
        ),
        Passing.ORIGINAL_AWAY: "The original cannot be read at the moment ({detail}).",
        Passing.ORIGINAL_NOT_PERMITTED: (
            "The service may not read this file. Give the service's user or group the right to read it."
        ),
        Passing.FOLDER_TROUBLE: "{folder} cannot be used at the moment ({detail}).",
        Passing.FILE_IN_USE: (
            "Another program has a file in {folder} open, so that it can be neither replaced nor deleted. Close it "
            "there; the service goes on by itself then."
        ),
        Passing.NO_EVENTS: (
            "The system does not tell of changes in {folder} ({detail}). The folder is looked through every half "
            "minute instead."
        ),
        Passing.DROP_FOLDER_SILENT: (
            "The drop folder {folder} does not answer; its share or disk may have trouble. It is asked again and again."
        ),
        Passing.DESTINATION_SILENT: (
            "The folder {folder} of the destination {destination} does not answer; its share or disk may have trouble. "
            "It is asked again and again; nothing is lost."
        ),
        Passing.MARK_UNREADABLE: (
            "The watermark's file {file} cannot be used ({detail}). Nothing is delivered without its mark: put the "
            "file there, or change `watermark` in the config."
        ),
        Passing.MARK_LETTERS: (
            "The watermark's font {file} has no “{letters}”. Name a `font` in the config that has them; nothing is "
            "delivered without its mark."
        ),
        Passing.EVENTS_STOPPED: "The system no longer tells of changes. The folder is looked through and watched anew.",
        Passing.WATCH_LIMIT: (
            "The system watches {watched} of {folders} folders: its limit is reached. They are looked through every "
            "half minute instead. To have pictures noticed at once, raise fs.inotify.max_user_watches (as root: "
            "sysctl -w fs.inotify.max_user_watches=524288), or drop into fewer folders."
        ),
        Passing.INSTANCE_LIMIT: (
            "The system's limit of watching programs is reached, so {folder} is looked through every half minute "
            "instead. Raise fs.inotify.max_user_instances (as root: sysctl -w fs.inotify.max_user_instances=1024)."
        ),
        Passing.STILL_WRITTEN: (
            "A program is still writing this file, or holds it open. It is taken up once that has ended."
        ),
        Passing.REQUESTS: (
            "The folder {folder} cannot be used ({detail}), so commands such as retry and withdraw do not reach the "
            "service. Give the service's user the right to read and write it."
        ),
        Passing.NOTE_IN_THE_WAY: (
            "{folder} holds a file HELD.txt that is not the service's own, so what is held cannot be noted there. "
            "Rename that file."
        ),
        Passing.MANIFEST_IN_THE_WAY: (
            "{folder} holds a file manifest.json that is not the service's own, so no manifest can be kept there. "
            "Rename that file, or leave out `manifest` in the config."
        ),
        Passing.SHEET_IN_THE_WAY: (
            "{folder} holds a page index.html that is not the service's own, so no proof sheet can be kept there. "
            "Rename that file, or set `proofs` to another folder."
        ),
        Passing.NO_WORKERS: (
            "No worker process can be started ({detail}), so nothing can be made at the moment. It is tried again and "
            "again; nothing is lost. Free some memory; if that does not help, install lanternslide again."
        ),
        Passing.FILING_AWAY: (
            "The folder {folder}, which finished originals of {photographer} are filed in, is not there. They stay in "
            "the drop folder meanwhile. If it is on a share or an external disk, connect it."
        ),
        # Commands.
        Command.NOT_UNDERSTOOD: "The running service does not understand this. It may be an older version: restart it.",
        Command.NO_SUCH_DESTINATION: "There is no destination “{found}”. Destinations: {known}.",
        Command.NO_SUCH_PHOTOGRAPHER: "There is no photographer “{found}”. Photographers: {known}.",
        Command.NAME_PHOTOGRAPHER: (
            "In {folder} each photographer has a service of their own. Say whose you mean: --photographer NAME, with "
            "one of {known}."
        ),
        Command.NOT_AS_ROOT: (
            "The state folder {folder} belongs to the user {user}, who could not use any more what root leaves in it. "
            "Do this as {user}: put “sudo -u {user}” before the command."
        ),
        Command.UNKNOWN: (
            "{path}: no original is known there. Name one as it lies, or lay, in a drop folder, or the folder around "
            "it."
        ),
        Command.RETRIED: "Originals that are tried again: {number}.",
        Command.RETRIED_ONE: "{original} is tried again.",
        Command.NOTHING_TO_RETRY: "{path}: nothing there is held, and nothing was withdrawn.",
        Command.WITHDRAWN: "{path} was deleted.",
        Command.WAS_AWAY: "{path} was not there any more; it stays away.",
        Command.CHANGED_STAYS: (
            "{path} was changed by somebody since it was delivered, so it stays. Delete it by hand if it should go."
        ),
        Command.WITHDRAWN_LATER: "{path} is deleted as soon as that is possible. {reason}",
        Command.NOTHING_STANDS: (
            "{original}: nothing of it stands published, and nothing will while it stays as it is."
        ),
        Command.COULD_NOT: "This could not be done ({detail}). Nothing was lost; the log says more.",
        Command.AT_HAND: "Watching. Originals at hand: {number}.",
        Command.LOOKS_NOW: "The drop folders are looked through now.",
        Command.MADE_AGAIN: "Made again or newly: {deliveries} deliveries of {pictures} pictures.",
        Command.LEFT_FOR_SERVICE: "The running service has not answered yet; it does this as soon as it can.",
        Command.IN_NO_DROP_FOLDER: "{path} lies in nobody's drop folder. Drop folders: {folders}.",
        Command.NOT_THERE: "{path} is not there.",
        Command.NO_PICTURE: "{path} is no picture that can be read: name one JPEG, TIFF, PNG or WebP.",
        Command.OUTSIDE_PICTURE: (
            "There is nothing at {x}, {y}: the delivery has {width} × {height} pixels. Name a place inside it."
        ),
        Command.NO_PLACE_FOR_RING: (
            "A ring-around cannot be put into {folder}: it lies in {other}, where it would be taken for a picture of "
            "yours. Name another folder with --output."
        ),
        # Installing.
        Install.NO_SYSTEMD: "This machine was not started by systemd, so no service can be installed with it here.",
        Install.NEEDS_ROOT: (
            "A service for the whole machine is root's to install: put “sudo” before the command. Without root, --user "
            "installs one for you alone."
        ),
        Install.NOT_FOR_ROOT: (
            "With --user the service is installed for whoever asks, and that is root now. Ask as yourself."
        ),
        Install.NOT_APART: (
            "The folder {folder} of another photographer lies in {above}, which the service of {photographer} has to "
            "see. Give each photographer folders of their own."
        ),
        Install.CONFIG_HIDDEN: (
            "The config lies in {folder}, which is hidden from the services of single photographers, since pictures of "
            "others lie there. Move it, for instance to /etc/lanternslide/lanternslide.toml."
        ),
        Install.FILED_TOO_FAR: (
            "Finished originals are to be renamed from {drop} into {filed}, so the service would have to be able to "
            "write everything around both. Put them into one folder, such as /srv/lanternslide."
        ),
        Install.UNREACHABLE: (
            "The service's user cannot get at {path}: the folder {folder} is closed to others. Install lanternslide "
            "where every user may read, such as /opt/lanternslide, and do this with that one."
        ),
        Install.FOLDERS_MISSING: (
            "Each photographer's folders have to be there before a service sees them alone. Make them: {commands}."
        ),
        Install.NO_ACCOUNT: (
            "The service of {photographer} runs as the user {photographer}, and there is none on this machine. Make "
            "one, with “adduser {photographer}” for instance, or name the photographer in the config as the user is "
            "called."
        ),
        Install.HOLDS_ONE_LEDGER: (
            "The state folder {folder} holds the ledger of one service for all. Services of single photographers begin "
            "their own, and would deliver all that lies in the drop folders once more, under numbered names. If you "
            "want that, set `state` to a new folder."
        ),
        Install.HOLDS_SEVERAL_LEDGERS: (
            "The state folder {folder} holds the ledgers of single photographers' services. One service for all begins "
            "its own, and would deliver all that lies in the drop folders once more, under numbered names. Use "
            "--per-photographer, or set `state` to a new folder."
        ),
        Install.IN_THE_WAY: (
            "{path} is there already and was not written by `lanternslide install`. Nothing was changed. Move it away "
            "if it should go."
        ),
        Install.NOT_WRITTEN: "{path} cannot be written ({detail}). What was written before it stays; do this again.",
        Install.REFUSED: (
            "The system has refused “{command}”: {detail}. What was written stays; once it is mended, do this again."
        ),
        Install.NOTHING_THERE: "No service of lanternslide is installed here, so nothing was taken away.",
        Install.OTHER_KIND: (
            "A service of another kind is installed already: {found}. Take it away first: lanternslide uninstall."
        ),
        Install.ACCOUNT_STAYS: (
            "The user {account} stays, since the ledger and the deliveries belong to it. Once you need neither, "
            "“userdel {account}” removes it."
        ),
        Install.STAYS: "Pictures, the config and the ledger stay where they are.",
        Install.LINGER: (
            "The service runs while you are logged in. To have it run from start-up on, also when nobody is: "
            "loginctl enable-linger."
        ),
        Install.ONE_WAY: "Say which way: --systemd on Linux, or --windows-task on Windows.",
        Install.NOT_WITH_USER: "Leave one out: --per-photographer is for the whole machine, --user for one person.",
        Install.OUTPUT_DRY: "Add --dry-run: --output names where to write what would be installed.",
        # The surroundings.
        Check.RUNNING: "{holder} is at work.",
        Check.NOT_RUNNING: "No service is running.",
        Check.STATE_ON_SHARE: (
            "The state folder {folder} lies on a share, where its ledger is not safe. Set `state` to a folder on a "
            "disk of this machine."
        ),
        Check.STATE_OPEN: (
            "Other users can look into the state folder {folder}, which knows the names of all pictures. Close it to "
            "them (chmod 700)."
        ),
        Check.NO_LEDGER: "There is no ledger in {folder} yet; the first start makes it.",
        Check.LEDGER_FINE: "The ledger in {folder} is sound.",
        Check.LEDGER_DAMAGED: (
            "The ledger in {folder} is damaged ({detail}). Stop the service, put back a copy from a backup, or move it "
            "away to begin a new one."
        ),
        Check.MACHINE: "Pictures made at the same time: {workers}, with {memory} of memory for all together.",
        Check.SILENT: "{folder} does not answer; its share or disk may have trouble.",
        Check.DROP_FINE: "{folder}: {pictures}.",
        Check.DROP_ON_SHARE: (
            "{folder}: {pictures}. It lies on a share, which sends no events: it is looked through every half minute."
        ),
        Check.DROP_MISSING: "{folder} is not there. Make it, or connect its share or disk.",
        Check.NOT_LISTED: "{folder} cannot be looked through ({detail}). Give the service's user the right to read it.",
        Check.WATCHES: (
            "The drop folder holds {folders} folders, and the system lets a user watch {limit} in all. Raise "
            "fs.inotify.max_user_watches if pictures are noticed late."
        ),
        Check.FOLDER_FINE: "{folder}: {free} free.",
        Check.FOLDER_TO_COME: "{folder} will be made with the first delivery; {free} free.",
        Check.FOLDER_MISSING: (
            "{folder} is not there, and neither is {above}. Make that one, or connect its share or disk."
        ),
        Check.NOT_WRITABLE: "The service may not write into {folder}. Give its user or group the right to.",
        Check.LITTLE_ROOM: "{folder}: only {free} free.",
        Check.FILING_FINE: "Finished originals are moved into {folder}.",
        Check.OTHER_DISK: (
            "{folder} is on another disk than {drop}, so finished originals cannot be renamed into it. Choose a folder "
            "on the same disk."
        ),
        # The first config.
        Beginning.CONFIG_THERE: (
            "There is a config already, and it stays as it is: {file}. Change it by hand, rename it first, or begin in "
            "another folder: lanternslide init FOLDER."
        ),
        Beginning.CONFIG_NAMED: (
            "A new config is written here and none is read, so --config has no place before `init`. Name a folder "
            "instead: lanternslide init FOLDER."
        ),
        Beginning.NOBODY_TO_ASK: (
            "There is no terminal here to ask on. Run this in one, or give --yes to take what would be proposed."
        ),
        Beginning.NOT_MADE: (
            "{path} cannot be made ({detail}), so there is no config yet. {made} When that is put right, run "
            "`lanternslide init` again; or begin in another folder."
        ),
        Beginning.FILE_IN_THE_WAY: "{folder} cannot be a folder, because {file} is a file. Choose another.",
        Beginning.NOT_APART: (
            "{folder} does not lie apart from {other}, where the service writes: it would take its own pictures for "
            "yours. Choose another folder."
        ),
        Beginning.NO_HOME: "“{found}” is nobody's home folder here. Write the folder in full.",
        Beginning.UNSEEN: (
            "“{found}” is empty, or holds letters that cannot be seen or are no text. Write it without them."
        ),
        Beginning.NO_NAME: "“{found}” cannot be a name here. Allowed: {allowed}.",
        Beginning.RESERVED_NAME: "Windows does not let a folder be called “{found}”. Choose another name.",
        Beginning.SAME_NAME: "“{found}” is on the list already. Choose another name.",
        Beginning.NO_EDGE: "“{found}” is no size. Give a whole number of pixels from 1 to {most}, such as 1050.",
        # The config.
        ConfigWord.NO_FILE: (
            "There is no config here. `lanternslide init` makes one. Or name one with --config or "
            "$LANTERNSLIDE_CONFIG, or put lanternslide.toml into this folder. Looked at: {looked}."
        ),
        ConfigWord.NOT_READABLE: "This config cannot be read ({detail}).",
        ConfigWord.NOT_TOML: "This is not valid TOML: {detail}.",
        ConfigWord.UNKNOWN_KEY: "There is no such key{near}. Keys here: {known}.",
        ConfigWord.MISSING_KEY: "This key is required. Allowed: {allowed}.",
        ConfigWord.NOT_ALLOWED: "Found {found}. Allowed: {allowed}.",
        ConfigWord.NOT_AVAILABLE: (
            "Found {found}. {feature} is not available yet in this version. Leave the key out{off}."
        ),
        ConfigWord.SIZE_RULE: ("Found {found}. Give exactly one of long_edge, short_edge, width, height, box or area."),
        ConfigWord.LEAD_SIZE: (
            "“lead” sharpens at a larger size on the way down, and with steps = 1 there is none. "
            "Give steps = 2 or more, or leave “lead” out."
        ),
        ConfigWord.MARK_WHAT: "A watermark is a text or an image: give one of them.",
        ConfigWord.NOBODY: "No photographer is named. Add a table such as [photographers.ida] with a drop folder.",
        ConfigWord.NOWHERE: (
            "No destination is named. Add a table such as [destinations.portfolio] with a folder and a size."
        ),
        ConfigWord.NO_SUCH_DESTINATION: "Found {found}, which is no destination{near}. Destinations: {known}.",
        ConfigWord.OVERLAPPING_FOLDERS: (
            "The folder {folder} lies inside, or is, the folder of {other} ({other_folder}). Folders must lie apart, "
            "or the service could take its own deliveries for originals."
        ),
        ConfigWord.NEEDS_RESTART: "This key cannot change while the service runs. Stop the service and start it again.",
        ConfigWord.NEEDS_STATE: (
            "A service for the whole machine needs a state folder that your commands find too. Set it to a folder on a "
            'disk of this machine, such as "/var/lib/lanternslide".'
        ),
        ConfigWord.SHARED_MANIFEST: (
            "The services of {photographers} would each write the manifest in {folder} over the other's. Put "
            "“{pattern}” into the destination's folder, leave out `manifest`, or have one service for all."
        ),
        ConfigWord.SAME_TAG: "“{tag}” already means the destination {other}. A tag or subfolder means one place.",
    }
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Said:
    """A sentence with its places filled."""

    key: str  #: The stable key of the sentence.
    text: str  #: The sentence, ready for a photographer.


def say(word: Word, **places: object) -> Said:
    """Return the sentence of *word* with its *places* filled.

    Raises
    ------
    KeyError
        If a place of the sentence is not given.
    """
    return Said(key=word.value, text=SENTENCES[word].format(**{name: _plain(value) for name, value in places.items()}))


def _plain(value: object) -> object:
    r"""Return what fills a place, safe to print: bytes that are no text become ``\xNN``, what is unseen an escape."""
    if not isinstance(value, str | PurePath):
        return value
    text = str(value).encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
