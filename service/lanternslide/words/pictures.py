"""What is said about a picture on its way: held, doubtful, or waiting for what may pass."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lanternslide.words.kinds import Doubt, Held, Passing, Word

__all__ = ["OF_PICTURES"]

OF_PICTURES: Mapping[Word, str] = MappingProxyType(
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
            "{share} of the picture had colours that sRGB cannot show; the destination asks to clip them. They may "
            "have lost detail or changed their hue."
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
        Passing.READ_ONLY: (
            "{folder} can only be read at the moment. It may need to be connected again for writing; or, where the "
            "config names it only since the service was installed, do `lanternslide install` again, and restart the "
            "service."
        ),
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
        Passing.REFUSED_OR_IN_USE: (
            "Windows does not let the service write into {folder}, for one of two reasons. Either another program has "
            "a file there open: close it. Or the service's user lacks the right to write there: give it. The service "
            "goes on by itself then."
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
            "No worker process can be started ({detail}), so nothing can be made at the moment. Nothing is lost. Free "
            "some memory; if that does not help, install lanternslide again."
        ),
        # More than one machine.
        Passing.SCHEDULER_AWAY: (
            "The scheduler {address} does not answer ({detail}), so nothing can be made at the moment. Nothing is "
            "lost. Start it there, or see whether this machine may reach it and has the right keys."
        ),
        Passing.NO_WORKER_FIT: (
            "No worker at the scheduler {address} may have work, so nothing can be made at the moment. Nothing is "
            "lost. {detail}"
        ),
        Passing.NO_WORKER_THERE: "None is connected: start one.",
        Passing.NO_WORKER_LARGE_ENOUGH: (
            "This needs about {need} of memory, and the largest worker that is there takes {largest}. It is made as "
            "soon as one with more is started."
        ),
        Passing.NOTHING_SHARED: (
            "No folder of a destination is there, so it cannot be seen whether workers share it. If they are on a "
            "share or an external disk, connect it."
        ),
        Passing.WORKER_OTHER_VERSION: (
            "{host} has {package} {theirs}, and this service {ours}; pictures could come out differently. It gets no "
            "work. Install the same version on both, and start what runs there again."
        ),
        Passing.WORKER_OTHER_SYSTEM: (
            "The worker on {host} runs on another kind of system ({theirs}; this is {ours}), where paths are called "
            "otherwise. It gets no work."
        ),
        Passing.WORKER_CANNOT_LOAD: (
            "What runs on {host} cannot load lanternslide ({detail}). It gets no work. Install lanternslide there, "
            "the same version as here, and start it again."
        ),
        Passing.WORKER_STARTED_OTHERWISE: (
            "The worker on {host} was started so that it could not be ended alone, or take as much memory as it likes. "
            "It gets no work. Start it with one thread, a nanny and a memory limit: dask worker --nworkers 4 "
            "--nthreads 1 --memory-limit 2GiB."
        ),
        Passing.WORKER_TOO_SMALL: (
            "The worker on {host} may take {memory} of memory, which leaves nothing for a picture. It gets no work. "
            "Start it with a larger --memory-limit."
        ),
        Passing.WORKER_SEES_OTHER: (
            "The worker on {host} does not see {path} as this service does ({detail}). It gets no work. Connect the "
            "share there, or say in `cluster.paths` what its folders are called on {host}."
        ),
        Passing.WORKER_CANNOT_WRITE: (
            "The worker on {host} cannot read or write the folder {folder} ({detail}). It gets no work. Connect the "
            "share there, give its user the right to write, or say in `cluster.paths` what the folder is called there."
        ),
        Passing.WORKER_WRITES_ELSEWHERE: (
            "What the worker on {host} writes into {folder} does not arrive here ({detail}). It gets no work. Connect "
            "the share there, or say in `cluster.paths` what the folder is called there."
        ),
        Passing.WORKER_SILENT: (
            "The worker on {host} does not answer ({detail}). It gets no work until it does; it is asked again and "
            "again."
        ),
        Passing.FILING_AWAY: (
            "The folder {folder}, which finished originals of {photographer} are filed in, is not there. They stay in "
            "the drop folder meanwhile. If it is on a share or an external disk, connect it."
        ),
    }
)
"""A held reason and a passing fault also say what to do."""
