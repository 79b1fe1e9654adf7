"""What is said about a picture on its way: held, doubtful, or waiting for what may pass."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lanternslide.words.kinds import Doubt, Held, Note, Passing, Word

__all__ = ["OF_PICTURES"]

OF_PICTURES: Mapping[Word, str] = MappingProxyType(
    {
        # Held: what is the matter, then what to do.
        Held.EMPTY: "The file is empty (0 bytes). Export or copy it again.",
        Held.NOT_A_PICTURE: (
            "This is not a picture that lanternslide can read: {found}. Export it as JPEG, TIFF, PNG or WebP."
        ),
        Held.CUT_SHORT: "The file ends before the picture does ({detail}). Export or copy it again.",
        Held.DAMAGED: "The file is damaged and cannot be decoded ({detail}). Export it again.",
        Held.FOLDER_LIKE_PICTURE: (
            "This is a folder, but its name ends like a picture's, so nothing in it was read. Rename the folder, or "
            "move the pictures out of it."
        ),
        Held.UNKNOWN_TAG: (
            "The name asks for “@{tag}”, which is not a destination of {photographer}{near}. Nothing was published. "
            "Rename the file with one of these tags, or without any: {known}."
        ),
        Held.NEAR_MISS_FOLDER: (
            "The folder “{folder}” is spelled almost like the destination “{near}”. Nothing was published. Rename the "
            "folder to “{near}”, or to something less like it."
        ),
        Held.TAG_WITHOUT_NAME: (
            "The name has tags but nothing before them. Put a name first, as in “grey-seal@journal.tif”."
        ),
        Held.NO_NAME: "The picture's name is nothing but spaces. Give it a name, as in “grey-seal.tif”.",
        Held.NO_DESTINATION: (
            "Neither the name nor the folder says where this picture goes, and the config has no `otherwise` for "
            "{photographer}. Add a tag to the name (one of: {known}), or set `otherwise`."
        ),
        Held.OWN_DELIVERY: (
            "This is not an original: lanternslide made it from {original} for {destination}. Remove it, or drop the "
            "full-size export instead. To publish it all the same, save it anew under another name."
        ),
        Held.FORMER_DENSITY: (
            "“@{tag}” ends the name, as lanternslide once named its own web pictures, so this is probably not an "
            "original. Remove it. If it is one, rename it without “@{tag}”."
        ),
        Held.TOO_MANY_PIXELS: (
            "The picture has {megapixels} megapixels; the config allows {limit} (`max_megapixels`). Raise the limit, "
            "or export a smaller picture."
        ),
        Held.NEEDS_MORE_MEMORY: (
            "The picture needs about {need} of memory, and the whole budget is {budget} (`memory`). Raise the budget, "
            "or export a smaller picture."
        ),
        Held.SAMPLE_KIND: (
            "The picture's pixels are {found}. Lanternslide reads grey, RGB and CMYK with 8 or 16 bits. Export it as "
            "RGB with 16 bits."
        ),
        Held.UNREAD_KIND: (
            "The picture is {found}, which lanternslide does not read yet. Export it as an ordinary JPEG with 8 bits, "
            "or as a TIFF without compression, or with LZW or ZIP."
        ),
        Held.FAILED_OFTEN: (
            "Lanternslide tried {attempts} times and failed each time. The last error: {detail}. Export the picture "
            "again. If it fails again, look into the log."
        ),
        Held.IMPLAUSIBLE_SIZE: (
            "The file has {size}, far more than its pixels need (at most {most}). It is mostly empty, or no picture "
            "from its middle on. Export it again."
        ),
        Held.AFTER_REPAIR: (
            "The ledger was repaired or put back, and may have forgotten that you withdrew this picture. Nothing more "
            "of it is delivered. To have it delivered: lanternslide retry {path}"
        ),
        # Doubts: what was done, and why it may matter.
        Doubt.NO_PROFILE: (
            "The original has no colour profile, and {hint}. It was read as sRGB all the same. If it looks wrong, "
            "export it with its profile embedded."
        ),
        Doubt.NO_INK_PROFILE: (
            "The original is in CMYK and has no colour profile, so common printing inks were assumed. Export it as "
            "RGB, or with its profile embedded."
        ),
        Doubt.BROKEN_PROFILE: (
            "The original's colour profile cannot be used ({detail}), so sRGB was assumed. Export the picture with a "
            "valid profile."
        ),
        Doubt.OTHER_KIND_OF_PROFILE: (
            "The original's colour profile is for {kind}, not for this picture, so sRGB was assumed. Export the "
            "picture with the right profile."
        ),
        Doubt.DISPLAY_PROFILE: (
            "The original carries the profile of a display (“{profile}”), not of a working space. Check your export "
            "settings."
        ),
        Doubt.SMALLER_THAN_ASKED: (
            "The original is {width} × {height} pixels, smaller than the destination asks for ({asked}). It was "
            "delivered at its own size, not enlarged. If you have a larger one, export it."
        ),
        Doubt.SMALL_FAULT: (
            "The file holds a few bytes that do not belong there. The picture has probably survived. Look at the "
            "delivery; if part of it is wrong, export or copy the original again."
        ),
        Doubt.LONGEST_JPEG: (
            "The destination asks for more ({asked}) than a JPEG can hold: {longest} pixels. The picture was "
            "delivered at the largest size that fits. Lower `size` in the config."
        ),
        Doubt.METADATA_LEFT_BEHIND: (
            "Some metadata of the original was left out ({detail}). Check that the delivered picture has your name and "
            "rights."
        ),
        Doubt.ANOTHERS_PICTURE: (
            "The original names somebody else, or a free licence ({found}). Your name and rights were not added. If "
            "the picture is yours, correct the original; `override_rights` replaces this in all your pictures."
        ),
        Doubt.RIGHTS_UNKNOWN: (
            "It is not known whose picture this is: part of the original's metadata could not be read ({what}). Your "
            "name and rights were not added. Export it again."
        ),
        Doubt.RECOGNISED_ALIKE: (
            "After a repair of the ledger this file was taken for the delivery, because it looks like it (SSIM "
            "{ssim}). It was left as it is. If it is another picture, move it away and run `lanternslide sweep "
            "--missing`."
        ),
        Doubt.NAME_TAKEN: (
            "Another file already had the name “{taken}”, so this one is called “{given}”. Both are kept. If you want "
            "the name, move the other file away and export the original again."
        ),
        Doubt.NAME_INHERITED: (
            "Another original had this name before and is gone. This one took the name over. Check that it is the "
            "same picture."
        ),
        Doubt.OUT_OF_GAMUT: (
            "{share} of the picture had colours that sRGB cannot show. They were made less saturated, with their "
            "lightness kept, and nearly their hue. Compare it with the original."
        ),
        Doubt.OUT_OF_GAMUT_CLIPPED: (
            "{share} of the picture had colours that sRGB cannot show. The destination clips them, so they may have "
            "lost detail or changed hue. Compare it with the original."
        ),
        Doubt.CLIPPED_SHADOWS: (
            "{share} of the picture is pure black. Check that the shadows are meant to have no detail."
        ),
        Doubt.CLIPPED_HIGHLIGHTS: (
            "{share} of the picture is pure white. Check that the highlights are meant to have no detail."
        ),
        Doubt.OVER_BYTES: (
            "Even at quality {quality}, the lowest allowed, the file is {size}, over the limit of {limit}. Raise "
            "`max_bytes`, or lower `min_quality` or `size`."
        ),
        Doubt.UNLIKE: (
            "At quality {quality} the file has an SSIM of {ssim} to the finished picture; `min_ssim` asks for "
            "{asked}. Look at it; if it is too coarse, raise `max_bytes` or lower `size`."
        ),
        Doubt.POSTERISED: (
            "The original has only 8 bits in a wide colour space, and its smooth parts show steps. Export it with 16 "
            "bits."
        ),
        Doubt.TAG_KEPT: (
            "“@{tag}” is not a destination, so it stayed part of the name. If it should be one, correct the name."
        ),
        # Notes: what is good to know.
        Note.SRGB_ASSUMED: "The original has no colour profile, so sRGB was assumed, as browsers do.",
        Note.SPACE_DECLARED: "The original names its colour space: {space}. It was read as that.",
        Note.PARTLY_OUT_OF_GAMUT: (
            "{share} of the picture had colours that sRGB cannot show. They were made less saturated, with their "
            "lightness kept, and nearly their hue."
        ),
        Note.PARTLY_CLIPPED: (
            "{share} of the picture had colours that sRGB cannot show. The destination clips them, as its config says."
        ),
        Note.LOW_QUALITY_FOR_BYTES: "The quality was lowered to {quality} to stay under {limit}.",
        Note.PURE_BLACK: "{share} of the picture is pure black.",
        Note.PURE_WHITE: "{share} of the picture is pure white.",
        Note.EXTRAS_LEFT_OUT: "These parts of the original's file were left out: {what}.",
        Note.REGIONS_LEFT_OUT: (
            "The original marks regions, such as faces, for a picture of another shape. They were left out."
        ),
        Note.CONTRADICTION: (
            "The original contradicts itself about {what}. The delivery uses the original's {place} everywhere."
        ),
        Note.METADATA_TOO_LARGE: (
            "Some of the original's metadata did not fit into a JPEG and was left out ({detail})."
        ),
        Note.DENSITY_LEFT_OUT: "The {density}x version was left out: the original is too small for it.",
        Note.TRANSPARENCY: "The original has transparent parts. They were filled with white.",
        Note.EXTRA_CHANNELS: "The original has extra channels, such as a saved selection. They were left out.",
        Note.OTHER_PAGES: "The original holds {pages} pictures. The largest was delivered; the others were left out.",
        Note.HALO_AT_LIMIT: "Sharpening stopped at the halo limit, so the picture may look softer than others.",
        Note.SHARPENED_ALREADY: "The original looks sharpened already, so it was sharpened less.",
        Note.RIGHTS_LEFT_BEHIND: (
            "The original says who made it. The destination asks for bare pictures, so that was left out."
        ),
        Note.RIGHTS_REPLACED: "Your rights replaced what the original said ({found}).",
        Note.YEAR_OF_FILE: (
            "The picture does not say when it was taken, so its copyright notice has the year of its file ({year})."
        ),
        Note.DATE_OF_FILE: (
            "The picture does not say when it was taken, so its name has the date of its file ({date})."
        ),
        Note.RECOGNISED: "This file stood here already, with the very same bytes. It was left as it is.",
        # What may pass.
        Passing.DROP_FOLDER_AWAY: (
            "The drop folder {folder} is not there. If it is on a share or an external disk, connect it. The service "
            "keeps looking for it."
        ),
        Passing.DESTINATION_AWAY: (
            "The folder {folder} of the destination {destination} is not there. If it is on a share or an external "
            "disk, connect it. If it was deleted, make it again. If it is new, make the folder above it."
        ),
        Passing.DESTINATION_UNMOUNTED: (
            "The folder {folder} of the destination {destination} is empty, because nothing is mounted at {mount}. "
            "Connect that disk or share. To use the empty folder from now on, put any file into it."
        ),
        Passing.DISK_FULL: "There is no room left in {folder}. Free some space; nothing is lost meanwhile.",
        Passing.READ_ONLY: (
            "{folder} is read-only at the moment. Connect it again for writing. If you added it to the config after "
            "you installed the service, run `lanternslide install` again and restart the service."
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
            "Another program has a file in {folder} open, so it cannot be replaced or deleted. Close it there; the "
            "service then goes on by itself."
        ),
        Passing.REFUSED_OR_IN_USE: (
            "Windows does not let the service write into {folder}. If another program has a file there open, close it. "
            "If none has, give the service's user the right to write there. The service then goes on by itself."
        ),
        Passing.NO_EVENTS: (
            "The system does not report changes in {folder} ({detail}). The service looks through it every half minute "
            "instead."
        ),
        Passing.DROP_FOLDER_SILENT: (
            "The drop folder {folder} does not answer. See whether its share or disk has trouble. The service keeps "
            "trying."
        ),
        Passing.DESTINATION_SILENT: (
            "The folder {folder} of the destination {destination} does not answer. See whether its share or disk has "
            "trouble. The service keeps trying; nothing is lost."
        ),
        Passing.MARK_UNREADABLE: (
            "The watermark file {file} cannot be used ({detail}). Put the file there, or change `watermark` in the "
            "config. Until then the pictures wait: none is delivered without its mark."
        ),
        Passing.MARK_LETTERS: (
            "The watermark's font {file} has no “{letters}”. Name another `font` in the config. Until then the "
            "pictures wait: none is delivered without its mark."
        ),
        Passing.EVENTS_STOPPED: (
            "The system no longer reports changes. The service looks through the folder and watches it anew."
        ),
        Passing.WATCH_LIMIT: (
            "The system's limit is reached: it watches {seen}. The service looks through them every half minute "
            "instead. To have pictures noticed at once, raise fs.inotify.max_user_watches (as root: sysctl -w "
            "fs.inotify.max_user_watches=524288), or use fewer folders."
        ),
        Passing.INSTANCE_LIMIT: (
            "The system lets no further program watch folders. The service looks through {folder} every half minute "
            "instead. Raise fs.inotify.max_user_instances (as root: sysctl -w fs.inotify.max_user_instances=1024)."
        ),
        Passing.STILL_WRITTEN: (
            "A program is still writing this file, or holds it open. The service takes the file once the program has "
            "closed it."
        ),
        Passing.STATE_AWAY: (
            "The state folder {folder} is not there any more, or another one has its name. Nothing is delivered until "
            "it is back. Connect its disk, or put the folder back."
        ),
        Passing.REQUESTS: (
            "The folder {folder} cannot be used ({detail}), so commands such as retry and withdraw do not reach the "
            "service. Give the service's user the right to read and write it."
        ),
        Passing.NOTE_IN_THE_WAY: (
            "{folder} has a file HELD.txt that the service did not write, so it cannot list there what is held. Rename "
            "that file."
        ),
        Passing.MANIFEST_IN_THE_WAY: (
            "{folder} has a file manifest.json that the service did not write, so it cannot keep its manifest there. "
            "Rename that file, or remove `manifest` from the config."
        ),
        Passing.SHEET_IN_THE_WAY: (
            "{folder} has a page index.html that the service did not write, so it cannot keep proof sheets there. "
            "Rename that page, or set `proofs` to another folder."
        ),
        Passing.NO_WORKERS: (
            "No worker process can start ({detail}), so nothing can be made at the moment. Nothing is lost. Free some "
            "memory. If that does not help, install lanternslide again."
        ),
        # More than one machine.
        Passing.SCHEDULER_AWAY: (
            "The scheduler {address} does not answer ({detail}), so nothing can be made at the moment. Nothing is "
            "lost. Start it, or see whether this machine can reach it and has the right keys."
        ),
        Passing.NO_WORKER_FIT: (
            "The scheduler {address} has no worker that can be used, so nothing can be made at the moment. Nothing is "
            "lost. {detail}"
        ),
        Passing.NO_WORKER_THERE: "None is connected: start one.",
        Passing.NO_WORKER_LARGE_ENOUGH: (
            "This needs about {need} of memory, and the largest worker has {largest}. It is made as soon as a larger "
            "worker starts."
        ),
        Passing.NOTHING_SHARED: (
            "None of the destinations' folders is there, so the service cannot see whether workers share them. If they "
            "are on a share or an external disk, connect it."
        ),
        Passing.WORKER_OTHER_VERSION: (
            "{host} has {package} {theirs}, this service has {ours}, so pictures could come out differently. It gets "
            "no work. Install the same version on both, and restart the worker."
        ),
        Passing.WORKER_OTHER_SYSTEM: (
            "The worker on {host} runs on another kind of system ({theirs}; this is {ours}), which writes paths "
            "differently. It gets no work."
        ),
        Passing.WORKER_CANNOT_LOAD: (
            "{host} cannot load lanternslide ({detail}). It gets no work. Install the same version of lanternslide "
            "there as here, and restart the worker."
        ),
        Passing.WORKER_STARTED_OTHERWISE: (
            "The worker on {host} could not be ended alone, or could take all memory, because of how it was started. "
            "It gets no work. Start it with one thread, a nanny and a memory limit: dask worker --nworkers 4 "
            "--nthreads 1 --memory-limit 2GiB."
        ),
        Passing.WORKER_TOO_SMALL: (
            "The worker on {host} may use {memory} of memory, which is too little for any picture. It gets no work. "
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
            "The worker on {host} does not answer ({detail}). It gets no work until it does. The service keeps trying."
        ),
        Passing.FILING_AWAY: (
            "The folder {folder} for finished originals of {photographer} is not there. They stay in the drop folder "
            "meanwhile. If it is on a share or an external disk, connect it."
        ),
    }
)
"""A held reason and a passing fault also say what to do."""
