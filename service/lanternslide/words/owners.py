"""What is said to an owner who gives a command, begins, installs, or writes a config."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lanternslide.words.kinds import Beginning, Check, Command, ConfigWord, Install, Word

__all__ = ["TO_OWNERS"]

TO_OWNERS: Mapping[Word, str] = MappingProxyType(
    {
        # Commands.
        Command.NOT_UNDERSTOOD: (
            "The running service does not know this command. It may be an older version: restart it."
        ),
        Command.NO_SUCH_DESTINATION: "There is no destination “{found}”. Destinations: {known}.",
        Command.NO_SUCH_PHOTOGRAPHER: "There is no photographer “{found}”. Photographers: {known}.",
        Command.NAME_PHOTOGRAPHER: (
            "In {folder} each photographer has their own service. Say which one you mean: --photographer NAME, with "
            "one of {known}."
        ),
        Command.NOT_AS_ROOT: (
            "The state folder {folder} belongs to the user {user}, who could no longer use what root leaves in it. Run "
            "this as {user}: put “sudo -u {user}” before the command."
        ),
        Command.UNKNOWN: (
            "{path}: no original is known there. Name a file where it lies, or lay, in a drop folder, or name its "
            "folder."
        ),
        Command.NEXT_SWEEP: "No service is running. The next `lanternslide sweep` does this.",
        Command.NOTHING_HELD: "Nothing is held.",
        Command.NOTHING_TO_MAKE: "Nothing needs to be remade.",
        Command.RETRIED: "{originals} will be tried again.",
        Command.RETRIED_ONE: "{original} will be tried again.",
        Command.NOTHING_TO_RETRY: "{path}: nothing there is held or withdrawn.",
        Command.WITHDRAWN: "{path} was deleted.",
        Command.WAS_AWAY: "{path} was gone already. It will not come back.",
        Command.CHANGED_STAYS: (
            "{path} stays, because somebody changed it after it was delivered. To remove it, delete it by hand."
        ),
        Command.WITHDRAWN_LATER: "{path} will be deleted as soon as that is possible. {reason}",
        Command.NOTHING_STANDS: (
            "{original}: nothing is published, and nothing will be until the original changes or you retry it."
        ),
        Command.COULD_NOT: "This did not work ({detail}). Nothing was lost; the log says more.",
        Command.AT_HAND: "Watching. Originals in hand: {number}.",
        Command.LOOKS_NOW: "The service is looking through the drop folders now.",
        Command.MADE_AGAIN: "Making {amount}.",
        Command.TAKES_ABOUT: "This takes about {time}. What you drop meanwhile goes first.",
        Command.WOULD_MAKE_AGAIN: "Would make {amount}.",
        Command.WOULD_TAKE: "This would take about {time}.",
        Command.OLDER_LEFT: "Older pictures still to remake: {pictures}.",
        Command.OLDER_LEFT_FOR: (
            "Older pictures still to remake: {pictures}. This takes about {time}; what you drop meanwhile goes first."
        ),
        Command.LEFT_FOR_SERVICE: "The running service has not answered yet. It will do this as soon as it can.",
        Command.IN_NO_DROP_FOLDER: "{path} is not in a drop folder. Drop folders: {folders}.",
        Command.NOT_THERE: "{path} is not there.",
        Command.NO_PICTURE: "{path} is not a picture that lanternslide can read. Name a JPEG, TIFF, PNG or WebP.",
        Command.OUTSIDE_PICTURE: (
            "{x}, {y} lies outside: the delivery has {width} × {height} pixels. Name a point inside it."
        ),
        Command.NO_PLACE_FOR_RING: (
            "The ring-around cannot go into {folder}: it lies in {other}, where it would be taken for one of your "
            "pictures. Name another folder with --output."
        ),
        # Installing.
        Install.NO_SYSTEMD: "This machine was not started by systemd, so you cannot install a systemd service here.",
        Install.NEEDS_ROOT: (
            "Only root can install a service for the whole machine: put “sudo” before the command. Without root, "
            "--user installs one for you alone."
        ),
        Install.NEEDS_ROOT_TO_TAKE: (
            "Only root can remove what was installed for the whole machine: put “sudo” before the command. To remove "
            "what you installed for yourself, add --user."
        ),
        Install.STATE_OF_ANOTHER: (
            "The state folder {folder} belongs to the user {user}. The service would run as {account}, and {user} "
            "could no longer use it. As {user}, use --user. Or set `state` to a new folder, /var/lib/lanternslide; a "
            "new ledger delivers everything again, under numbered names."
        ),
        Install.CONFIG_UNREACHABLE: (
            "The service's user cannot read the config {path}, because {folder} is closed to others. Put the config "
            "where every user may read it, such as /etc/lanternslide/lanternslide.toml. Or install for yourself alone "
            "with --user."
        ),
        Install.OUTPUT_NOT_WRITTEN: "{path} cannot be written ({detail}). Name another file.",
        Install.NOT_FOR_ROOT: (
            "With --user you install the service for yourself, and you are root now. Run this as the user who should "
            "have it."
        ),
        Install.NOT_APART: (
            "The folder {folder} of another photographer lies in {above}, which the service of {photographer} has to "
            "see. Give each photographer separate folders."
        ),
        Install.CONFIG_HIDDEN: (
            "The config lies in {folder}, which is hidden from each photographer's service, because others' pictures "
            "lie there. Move it, for example to /etc/lanternslide/lanternslide.toml."
        ),
        Install.FILED_TOO_FAR: (
            "Finished originals move from {drop} to {filed}, so the service would need to write everywhere around "
            "both. Put them into one folder, such as /srv/lanternslide."
        ),
        Install.TEMPORARY: (
            "The folder {folder} is for temporary files, and each service sees only its own. Choose another, such as "
            "one in /srv."
        ),
        Install.AS_ROOT: (
            "The service of {photographer} would run as the user {photographer}, who may do everything here. Rename "
            "the photographer in the config, and make a user of that name."
        ),
        Install.LEFT_OVER: (
            "The config no longer names some photographers, but their services are still here: {files}. To remove "
            "them, run “systemctl disable --now {units}”, then delete the files."
        ),
        Install.UNREACHABLE: (
            "The service's user cannot reach {path}, because the folder {folder} is closed to others. Install "
            "lanternslide where every user may read, such as /opt/lanternslide, and run this command from there."
        ),
        Install.FOLDERS_MISSING: (
            "Each photographer's folders must be there before the services can start. Make them: {commands}."
        ),
        Install.NO_ACCOUNT: (
            "The service of {photographer} runs as the user {photographer}, and this machine has no such user. Add "
            "one, for example with “adduser {photographer}”, or give the photographer an existing user's name in the "
            "config."
        ),
        Install.HOLDS_ONE_LEDGER: (
            "The state folder {folder} holds the ledger of one service for all. Separate services would begin new "
            "ledgers and deliver everything in the drop folders again, under numbered names. If you want that, set "
            "`state` to a new folder."
        ),
        Install.HOLDS_SEVERAL_LEDGERS: (
            "The state folder {folder} holds the ledgers of separate services. One service for all would begin a new "
            "ledger and deliver everything in the drop folders again, under numbered names. Use --per-photographer, or "
            "set `state` to a new folder."
        ),
        Install.IN_THE_WAY: (
            "{path} is there already, and `lanternslide install` did not write it. Nothing was changed. If it should "
            "go, move it away."
        ),
        Install.NOT_WRITTEN: (
            "{path} cannot be written ({detail}). What was written before it stays. Fix that and run this again."
        ),
        Install.REFUSED: (
            "The system refused “{command}”: {detail}. What was written stays. Fix that and run this again."
        ),
        Install.NOTHING_THERE: "No lanternslide service is installed here, so nothing was removed.",
        Install.OTHER_KIND: (
            "Another kind of service is installed already: {found}. Remove it first: lanternslide uninstall."
        ),
        Install.ACCOUNT_STAYS: (
            "The user {account} stays, because it owns the ledger and the deliveries. When you need neither, remove it "
            "with “userdel {account}”."
        ),
        Install.STAYS: "Pictures, the config and the ledger stay where they are.",
        Install.LINGER: (
            "The service runs while you are logged in. To run it whenever the machine is on: loginctl enable-linger."
        ),
        Install.ONE_WAY: "Say which one: --systemd on Linux, or --windows-task on Windows.",
        Install.NOT_WITH_USER: "Use only one: --per-photographer is for the whole machine, --user for one person.",
        Install.OUTPUT_DRY: "Add --dry-run. --output only names the file that a dry run writes.",
        Install.ONE_TASK: "Leave out --user and --per-photographer: Windows has one task, which runs in your account.",
        Install.NOT_WINDOWS: (
            "Only Windows has a Task Scheduler. Here, --dry-run writes the task without registering it. See "
            "deploy/lanternslide-task.xml for an example."
        ),
        Install.OF_THIS_MACHINE: (
            "This task names an account and paths of this machine, which does not run Windows. Change UserId, Command, "
            "Arguments and WorkingDirectory before you use it."
        ),
        Install.CONFIG_ON_DRIVE: (
            "The config {config} lies on a network drive, and a task does not see your drives. Move it to a disk of "
            "this machine, or name it by its share, such as \\\\nas\\photos\\lanternslide.toml. Then run this again."
        ),
        Install.NO_TASK: (
            "Windows shows no task {task} here, so nothing was removed. If there is one, run this in a terminal opened "
            "as administrator."
        ),
        Install.TASK_UNCLEAR: (
            "The task {task} runs with a config that is unknown or cannot be used: {detail} Nothing was changed. Put "
            "that right and run this again. To remove the task by hand, open a terminal as administrator. Switch the "
            "task off: schtasks /Change /TN {task} /DISABLE. Put an empty file named stop into the state folder, and "
            "wait until the service has ended. Delete the task: schtasks /Delete /TN {task} /F."
        ),
        # The surroundings.
        Check.ENDED_UNSEEN: (
            "Lanternslide ended with an error where nobody could see it. The file {file} gives the time and the "
            "reason. The next good start deletes it."
        ),
        Check.RUNNING: "{holder} is running.",
        Check.NOT_RUNNING: "No service is running.",
        Check.STATE_ON_SHARE: (
            "The state folder {folder} lies on a share, where its ledger is not safe. Stop the service, move the "
            "folder to a disk of this machine, and set `state` to it."
        ),
        Check.STATE_OPEN: (
            "Other users can look into the state folder {folder}, which holds the names of all pictures. Close it to "
            "them (chmod 700)."
        ),
        Check.STATE_OPEN_TO_ALL: (
            "Every user of this machine may write into the state folder {folder}, and so withdraw your pictures. The "
            "service does not start. Close it to them (chmod 700)."
        ),
        Check.STATE_READ_ONLY: "The disk of the state folder {folder} is read-only, so the service cannot work.",
        Check.STATE_FULL: (
            "The disk of the state folder {folder} is full, so the service cannot work. Free some room. Until then, "
            "`withdraw` works from a reserve."
        ),
        Check.NO_LEDGER: "There is no ledger in {folder} yet. The first sweep or watch makes it.",
        Check.LEDGER_FINE: "The ledger in {folder} is sound.",
        Check.LEDGER_DAMAGED: (
            "The ledger in {folder} is damaged ({detail}). Stop the service. Then run `lanternslide repair`: it says "
            "what can be saved."
        ),
        Check.LEDGER_UNSURE: (
            "The ledger in {folder} was put back from a copy, or its repair was cut off. The service does not start "
            "before you run `lanternslide repair --yes`."
        ),
        Check.LOG_LOST: (
            "The ledger in {folder} was not closed in order, and its log is gone. It may have forgotten what it noted "
            "last. Run `lanternslide repair`: it looks what stands."
        ),
        Check.SCHEDULER_FINE: (
            "The scheduler {address} answers; {workers}. Before a worker gets work, the service checks that it sees "
            "the same files."
        ),
        Check.MACHINE: "Works on {workers} at a time, using at most {memory} of memory.",
        Check.SILENT: "{folder} does not answer. See whether its share or disk has trouble.",
        Check.DROP_FINE: "{folder}: {pictures}.",
        Check.DROP_ON_SHARE: (
            "{folder}: {pictures}. It lies on a share, which reports no changes. The service looks through it every "
            "half minute."
        ),
        Check.DROP_MISSING: "{folder} is not there. Make it, or connect its share or disk.",
        Check.NOT_LISTED: "{folder} cannot be listed ({detail}). Give the service's user the right to read it.",
        Check.WATCHES: (
            "The drop folder holds {folders} folders, and the system lets a user watch {limit} in all. If pictures are "
            "noticed late, raise fs.inotify.max_user_watches."
        ),
        Check.FOLDER_FINE: "{folder}: {free} free.",
        Check.FOLDER_TO_COME: "{folder} is not there yet. The first delivery makes it; {free} free.",
        Check.FOLDER_MISSING: "{folder} is not there, nor is {above}. Make {above}, or connect its share or disk.",
        Check.NOT_WRITABLE: "The service may not write into {folder}. Give its user or group the right to write there.",
        Check.LITTLE_ROOM: "{folder}: only {free} free.",
        Check.FILING_FINE: "Finished originals are moved into {folder}.",
        Check.OTHER_DISK: (
            "{folder} is on another disk than {drop}, so finished originals cannot move there. Choose a folder on the "
            "same disk."
        ),
        # The first config.
        Beginning.CONFIG_THERE: (
            "There is a config already, and it stays as it is: {file}. Change it by hand, rename it first, or use "
            "another folder: lanternslide init DIR."
        ),
        Beginning.CONFIG_NAMED: (
            "Leave out --config: `init` writes a new config and reads none. Name a folder instead: lanternslide init "
            "DIR."
        ),
        Beginning.NOBODY_TO_ASK: (
            "There is no terminal here to ask on. Run this in one, or add --yes to accept what would be proposed."
        ),
        Beginning.NOT_MADE: (
            "{path} cannot be made ({detail}), so there is no config yet. {made} Put that right and run `lanternslide "
            "init` again, or use another folder."
        ),
        Beginning.FILE_IN_THE_WAY: "{folder} cannot be a folder, because {file} is a file. Choose another.",
        Beginning.NOT_APART: (
            "{folder} lies inside, or around, {other}, where the service writes. It would take its own pictures for "
            "yours. Choose another folder."
        ),
        Beginning.NO_HOME: "“{found}” is nobody's home folder here. Write the whole path.",
        Beginning.UNSEEN: "“{found}” has characters that cannot be seen. Write it without them.",
        Beginning.FROM_WINDOWS: "“{found}” is a Windows path. Write it as this machine does: /home/you/drop.",
        Beginning.MEND_FIRST: "The config is written. Fix what is wrong, then check it: {command} check.",
        Beginning.NO_NAME: "“{found}” cannot be a name here. Allowed: {allowed}.",
        Beginning.RESERVED_NAME: "Windows does not allow a folder named “{found}”. Choose another name.",
        Beginning.SAME_NAME: "“{found}” is on the list already. Choose another name.",
        Beginning.NO_EDGE: (
            "“{found}” is not a size. Give a whole number of pixels from {least} to {most}, such as 1050."
        ),
        Beginning.NAME_LIKE: "“{found}” cannot be a name here, but “{like}” can.",
        Beginning.NO_TEXT: "Your terminal sent letters that cannot be read. Set it to UTF-8, or type plain letters.",
        Beginning.ODD_NAME: "“{found}” is an odd name for a destination. Give it one with letters, such as portfolio.",
        Beginning.EMPTY: "This needs an answer.",
        Beginning.CANNOT_BE_MADE: "{folder} can be neither made nor read ({detail}). Choose another folder.",
        Beginning.NEITHER_YES_NOR_NO: "“{found}” is neither yes nor no. Write one of them, or ^ to go back.",
        Beginning.LIE_THERE: (
            "This folder holds {pictures} already. The first `sweep` or `watch` publishes whatever lies in it. Move "
            "out what should not be published, or choose another folder."
        ),
        # The config.
        ConfigWord.NO_FILE: (
            "There is no config here. Make one with `lanternslide init`. Or name yours with --config or "
            "$LANTERNSLIDE_CONFIG, or put lanternslide.toml into this folder. Looked at: {looked}."
        ),
        ConfigWord.NOT_READABLE: "This config cannot be read ({detail}).",
        ConfigWord.NOT_TOML: (
            "This line cannot be read ({detail}). A line is a [heading], KEY = VALUE, or a comment after #."
        ),
        ConfigWord.OTHER_ENCODING: "This file is saved as {encoding}. Save it as UTF-8 in your editor.",
        ConfigWord.RICH_TEXT: "This file is saved as rich text. Save it as plain text in your editor.",
        ConfigWord.TXT_ENDING: "There is a file {found} here. Rename it to {right}.",
        ConfigWord.NOT_UTF8: "This letter is not in UTF-8. Save the file as UTF-8 in your editor.",
        ConfigWord.CURLY_QUOTES: "These quotation marks are curly. Write straight ones: {right}",
        ConfigWord.UNSEEN_LETTERS: "This line has a space or character that cannot be seen. Type it again: {right}",
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
        ConfigWord.QUOTES_INSIDE: "Use single quotation marks around text that has double ones: {right}",
        ConfigWord.FORWARD_SLASHES: "Write / in place of each backslash: {right}",
        ConfigWord.NOTHING_AFTER: "Nothing stands after a value: {right}",
        ConfigWord.FIRST_ZERO: "Write a number without a 0 in front: {right}",
        ConfigWord.TABLE_ON_ONE_LINE: (
            "A table in braces must stand on one line. Write this in place of lines {first} to {last}: {right}"
        ),
        ConfigWord.UNSEEN_LINE: "This line has a character that cannot be seen. Delete the line.",
        ConfigWord.COMMA_MISSING: "Put a comma between the items of a list: {right}",
        ConfigWord.REMARK: "A comment begins with #: {right}",
        ConfigWord.SEVERAL: "More than one thing is wrong in this line. Write: {right}",
        ConfigWord.HEADING_NAME: "A name has only a to z, A to Z, digits, _ and -. Write {right}",
        ConfigWord.LAST_COMMA: "Remove the comma before the closing }}: {right}",
        ConfigWord.NO_VALUE: "There is no value after the =. Give one, or put # before the line.",
        ConfigWord.TABLE_TWICE: (
            "The heading {name} is in line {first} already. Put these keys below that one, and leave this line out."
        ),
        ConfigWord.KEY_TWICE: "The key {name} is in line {first} already. Leave one of the two lines out.",
        ConfigWord.UNKNOWN_KEY: "There is no such key{near}. Keys here: {known}.",
        ConfigWord.MISSING_KEY: "This key is required. Allowed: {allowed}.",
        ConfigWord.MISPLACED_KEY: "This key belongs to {home}. Move it to below that heading.",
        ConfigWord.KEY_OF_TABLE: "This key belongs in {table}. Write {right}",
        ConfigWord.KEY_OF_TABLE_ALONE: "This key belongs in {table}. Write it there.",
        ConfigWord.HEADING_WITHOUT_NAME: "This heading needs a name, such as [{table}.{example}].",
        ConfigWord.HEADING: "There is no heading {found}. Write {right}",
        ConfigWord.SINGLE_BRACKETS: "Write the heading with single brackets: {right}",
        ConfigWord.NUMBER_IN_QUOTES: "Write a number without quotation marks: {right}",
        ConfigWord.DOTTED_NAME: "A name has no dots. Write [{table}.{right}].",
        ConfigWord.NOT_ALLOWED: "Found {found}. Allowed: {allowed}.",
        ConfigWord.TABLE_NEEDED: "Found {found}. Allowed: {allowed}. For example: {right}",
        ConfigWord.LIST_NEEDED: "Found {found}. Write a list: {right}.",
        ConfigWord.NAMES_ALIKE: (
            "Found {found}. Different pictures would get the same name. Add {{stem}}, the original's name, or {{date}}."
        ),
        ConfigWord.SIZE_RULE: ("Found {found}. Give exactly one of long_edge, short_edge, width, height, box or area."),
        ConfigWord.LEAD_SIZE: (
            "“lead” sharpens at a larger size on the way down, and steps = 1 has none. Give steps = 2 or more, or "
            "leave “lead” out."
        ),
        ConfigWord.MARK_WHAT: "A watermark is a text or an image. Give exactly one of them.",
        ConfigWord.NOBODY: "No photographer is named. Add a table such as [photographers.ida] with a drop folder.",
        ConfigWord.NOWHERE: (
            "No destination is named. Add a table such as [destinations.portfolio] with a folder and a size."
        ),
        ConfigWord.NO_SUCH_DESTINATION: "Found {found}, which is not a destination{near}. Destinations: {known}.",
        ConfigWord.OVERLAPPING_FOLDERS: (
            "The folder {folder} is, or lies inside, the folder of {other} ({other_folder}). Keep folders apart, or "
            "the service could take its own deliveries for originals."
        ),
        ConfigWord.NEEDS_RESTART: "This key cannot change while the service runs. Restart the service.",
        ConfigWord.NEEDS_STATE: (
            "A service for the whole machine needs a state folder that your commands can find, too. Set it to a folder "
            'on a disk of this machine, such as "/var/lib/lanternslide".'
        ),
        ConfigWord.SCHEDULER_NEEDS_KEYS: (
            "The scheduler {found} is on another machine. Without keys, anyone who can reach it could run anything. "
            'Write "dask+tls://{place}", and name tls_ca, tls_cert and tls_key in [cluster].'
        ),
        ConfigWord.KEYS_MISSING: "A scheduler with dask+tls needs its keys. Name this file.",
        ConfigWord.KEY_UNREADABLE: "The file {path} cannot be read ({detail}).",
        ConfigWord.WHOLE_PATHS: (
            'Found {found}. Allowed: whole paths, such as "/srv/photos", on this machine and on the other.'
        ),
        ConfigWord.EXTRA_MISSING: (
            "Work on several machines needs packages that are not installed ({detail}). Install them: pip install "
            "'lanternslide[cluster]'."
        ),
        ConfigWord.SHARED_MANIFEST: (
            "The services of {photographers} would overwrite each other's manifest in {folder}. Put {pattern} into the "
            "destination's folder, leave out `manifest`, or run one service for all."
        ),
        ConfigWord.SAME_TAG: "“{tag}” already means the destination {other}. A tag or subfolder means one destination.",
    }
)
"""Commands, installing, the surroundings, the first config, the config."""
