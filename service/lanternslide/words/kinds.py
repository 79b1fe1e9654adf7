"""The keys of all that is said: stable, since they stand in the ledger and in logs."""

from __future__ import annotations

from enum import StrEnum

__all__ = [
    "Beginning",
    "Check",
    "Command",
    "ConfigWord",
    "Doubt",
    "Held",
    "Install",
    "Passing",
    "Word",
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
    REFUSED_OR_IN_USE = "refused-or-in-use"
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
    NEEDS_ROOT_TO_TAKE = "needs-root-to-take"
    STATE_OF_ANOTHER = "state-of-another"
    CONFIG_UNREACHABLE = "config-unreachable"
    OUTPUT_NOT_WRITTEN = "output-not-written"
    NOT_APART = "photographers-not-apart"
    CONFIG_HIDDEN = "config-hidden"
    FILED_TOO_FAR = "filed-too-far"
    TEMPORARY = "temporary-folder"
    AS_ROOT = "as-root"
    LEFT_OVER = "left-over"
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
    ONE_TASK = "one-task"
    NOT_WINDOWS = "not-windows"
    OF_THIS_MACHINE = "of-this-machine"
    CONFIG_ON_DRIVE = "config-on-drive"
    NO_TASK = "no-task"
    TASK_UNCLEAR = "task-unclear"


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
    TAKES_ABOUT = "takes-about"
    WOULD_MAKE_AGAIN = "would-make-again"
    WOULD_TAKE = "would-take"
    OLDER_LEFT = "older-left"
    OLDER_LEFT_FOR = "older-left-for"
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
    ENDED_UNSEEN = "ended-unseen"


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
    FROM_WINDOWS = "from-windows"
    MEND_FIRST = "mend-first"
    NO_NAME = "no-name"
    RESERVED_NAME = "reserved-name"
    SAME_NAME = "same-name"
    NO_EDGE = "no-edge"


Word = Held | Doubt | Passing | ConfigWord | Command | Check | Install | Beginning
"""The key of a sentence."""
