"""What is said to an owner who gives a command, begins, installs, or writes a config."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lanternslide.words.kinds import Beginning, Check, Command, ConfigWord, Install, Word

__all__ = ["TO_OWNERS"]

TO_OWNERS: Mapping[Word, str] = MappingProxyType(
    {
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
        Command.TAKES_ABOUT: "That takes about {time}. What is dropped meanwhile goes first.",
        Command.WOULD_MAKE_AGAIN: "To be made again or newly: {deliveries} deliveries of {pictures} pictures.",
        Command.WOULD_TAKE: "That would take about {time}.",
        Command.OLDER_LEFT: "Older pictures that are still to be made again: {pictures}.",
        Command.OLDER_LEFT_FOR: (
            "Older pictures that are still to be made again: {pictures}, which takes about {time}. What is dropped "
            "meanwhile goes first."
        ),
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
        Install.NEEDS_ROOT_TO_TAKE: (
            "What was installed for the whole machine is root's to take away: put “sudo” before the command. With "
            "--user, what you have installed for yourself is taken away."
        ),
        Install.STATE_OF_ANOTHER: (
            "The state folder {folder} belongs to the user {user}. The service would run as {account}, and {user} "
            "could not use it any more. As {user}, use --user; or set `state` to a new one: /var/lib/lanternslide."
        ),
        Install.CONFIG_UNREACHABLE: (
            "The service's user cannot read the config {path}: {folder} is closed to others. Put the config where "
            "every user may read it, such as /etc/lanternslide/lanternslide.toml; or, for yourself alone, use --user."
        ),
        Install.OUTPUT_NOT_WRITTEN: "{path} cannot be written ({detail}). Name another file.",
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
        Install.TEMPORARY: (
            "The folder {folder} is for temporary files, of which each service sees its own alone. Choose another, "
            "such as one in /srv."
        ),
        Install.AS_ROOT: (
            "The service of {photographer} would run as the user {photographer}, who may do everything here. "
            "Call the photographer otherwise in the config, and make a user of that name."
        ),
        Install.LEFT_OVER: (
            "Of photographers whom the config no longer names, this is left: {files}. If their services should go, "
            "“systemctl disable --now {units}” ends them; then delete the files."
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
        Install.ONE_TASK: (
            "Leave out --user and --per-photographer: on Windows there is one task, which runs in your account."
        ),
        Install.NOT_WINDOWS: (
            "Only Windows has a Task Scheduler. Here, --dry-run writes the task without registering it; "
            "deploy/lanternslide-task.xml is an example of one."
        ),
        Install.OF_THIS_MACHINE: (
            "Account and paths in this task are those of this machine, which is no Windows. Change UserId, Command, "
            "Arguments and WorkingDirectory before you use it."
        ),
        Install.CONFIG_ON_DRIVE: (
            "The config {config} lies on a drive that stands for a share, and a task does not have your drives. Move "
            "it to a disk of this machine, or name it by its share, as in \\\\nas\\photos\\lanternslide.toml, and do "
            "this again."
        ),
        Install.NO_TASK: (
            "Windows shows no task {task} here, so nothing was taken away. If there is one, do this again in a "
            "terminal that was opened as administrator."
        ),
        Install.TASK_UNCLEAR: (
            "The config with which the task {task} runs is not known, or cannot be used: {detail} Nothing was changed. "
            "Mend that and do this again. Or do it by hand, in a terminal that was opened as administrator: switch the "
            "task off (schtasks /Change /TN {task} /DISABLE), put an empty file named stop into the state folder, wait "
            "until the service has ended, and delete the task (schtasks /Delete /TN {task} /F)."
        ),
        # The surroundings.
        Check.ENDED_UNSEEN: (
            "Lanternslide has ended with an error where nobody could see it. The file {file} keeps the date and the "
            "reason; the next good start of the service deletes it."
        ),
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
        Check.SCHEDULER_FINE: (
            "The scheduler {address} answers; {workers}. Whether they see the same files as this machine is found out "
            "by the service, before it gives them work."
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
            "another folder: lanternslide init DIR."
        ),
        Beginning.CONFIG_NAMED: (
            "A new config is written here and none is read, so --config has no place before `init`. Name a folder "
            "instead: lanternslide init DIR."
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
        Beginning.FROM_WINDOWS: "“{found}” is a folder of Windows. Write it as this machine does: /home/you/drop.",
        Beginning.MEND_FIRST: "The config is written. Mend what is wrong, and ask again: {command} check.",
        Beginning.NO_NAME: "“{found}” cannot be a name here. Allowed: {allowed}.",
        Beginning.RESERVED_NAME: "Windows does not let a folder be called “{found}”. Choose another name.",
        Beginning.SAME_NAME: "“{found}” is on the list already. Choose another name.",
        Beginning.NO_EDGE: "“{found}” is no size. Give a whole number of pixels from {least} to {most}, such as 1050.",
        # The config.
        ConfigWord.NO_FILE: (
            "There is no config here. `lanternslide init` makes one. Or name one with --config or "
            "$LANTERNSLIDE_CONFIG, or put lanternslide.toml into this folder. Looked at: {looked}."
        ),
        ConfigWord.NOT_READABLE: "This config cannot be read ({detail}).",
        ConfigWord.NOT_TOML: (
            "This line cannot be read ({detail}). A line is a [heading], KEY = VALUE, or a remark after #."
        ),
        ConfigWord.OTHER_ENCODING: "This file is saved as {encoding}. Save it as UTF-8 in your editor.",
        ConfigWord.NOT_UTF8: "This letter is not in UTF-8. Save the file as UTF-8 in your editor.",
        ConfigWord.CURLY_QUOTES: "These quotation marks are curly. Write straight ones: {right}",
        ConfigWord.UNSEEN_LETTERS: "You cannot see a space or a letter in this line. Type it again: {right}",
        ConfigWord.BACKSLASHES: (
            "In double quotation marks a backslash begins a special character. Use single ones: {right}"
        ),
        ConfigWord.YES_OR_NO: "Write true or false, in small letters: {right}",
        ConfigWord.NUMBER_WITH_UNIT: "Write the number without its unit: {right}",
        ConfigWord.ODD_NUMBER: (
            "Write a number with a point before its decimals, and with nothing between its thousands: {right}"
        ),
        ConfigWord.TEXT_NOT_CLOSED: "A quotation mark is missing. Put one on each side of the text: {right}",
        ConfigWord.BRACKET_NOT_CLOSED: "A closing bracket is missing: {right}",
        ConfigWord.LIST_WITHOUT_BRACKETS: "Put a list into square brackets: {right}",
        ConfigWord.TEXT_WITHOUT_QUOTES: "Put text into quotation marks: {right}",
        ConfigWord.COLON: "Write = between a key and its value: {right}",
        ConfigWord.NO_VALUE: "There is no value after the =. Give one, or put # before the line.",
        ConfigWord.TABLE_TWICE: (
            "The heading {name} is in line {first} already. Put these keys below that one, and leave this line out."
        ),
        ConfigWord.KEY_TWICE: "The key {name} is in line {first} already. Leave one of the two lines out.",
        ConfigWord.UNKNOWN_KEY: "There is no such key{near}. Keys here: {known}.",
        ConfigWord.MISSING_KEY: "This key is required. Allowed: {allowed}.",
        ConfigWord.MISPLACED_KEY: "This key belongs to {home}. Put it below that heading, before the next one.",
        ConfigWord.DOTTED_NAME: "A name has no dots. Write [{table}.{right}].",
        ConfigWord.NOT_ALLOWED: "Found {found}. Allowed: {allowed}.",
        ConfigWord.LIST_NEEDED: "Found {found}. Write a list: {right}.",
        ConfigWord.NAMES_ALIKE: (
            "Found {found}. All pictures would be called alike. Put {{stem}}, the original's name, or {{date}} into it."
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
        ConfigWord.SCHEDULER_NEEDS_KEYS: (
            "The scheduler {found} is on another machine. Whoever can reach it without keys could run anything. "
            "Write “dask+tls://{place}”, and name tls_ca, tls_cert and tls_key in [cluster]."
        ),
        ConfigWord.KEYS_MISSING: "A scheduler with “dask+tls” needs its keys. Name this file.",
        ConfigWord.KEY_UNREADABLE: "The file {path} cannot be read ({detail}).",
        ConfigWord.WHOLE_PATHS: "Found {found}. Allowed: whole paths, such as “/srv/photos”, here and there.",
        ConfigWord.EXTRA_MISSING: (
            "Work on more than one machine needs packages that are not installed ({detail}). Install them: pip install "
            "'lanternslide[cluster]'."
        ),
        ConfigWord.SHARED_MANIFEST: (
            "The services of {photographers} would each write the manifest in {folder} over the other's. Put "
            "“{pattern}” into the destination's folder, leave out `manifest`, or have one service for all."
        ),
        ConfigWord.SAME_TAG: "“{tag}” already means the destination {other}. A tag or subfolder means one place.",
    }
)
"""Commands, installing, the surroundings, the first config, the config."""
