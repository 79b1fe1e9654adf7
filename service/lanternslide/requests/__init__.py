"""What an owner asks for, of a running service or without one: taking back, trying again, remaking; and recovery."""

from lanternslide.requests.commands import DROP_NOTE, OwnerCommands, commands_alone
from lanternslide.requests.named_paths import below_drops
from lanternslide.requests.recovery import Recovery
from lanternslide.requests.remaking import Amount, Remaking, Touched
from lanternslide.requests.request_folder import Reply, Request, RequestFolder
from lanternslide.requests.slots import SLOTS_NOTE, slots_known

__all__ = [
    "DROP_NOTE",
    "SLOTS_NOTE",
    "Amount",
    "OwnerCommands",
    "Recovery",
    "Remaking",
    "Reply",
    "Request",
    "RequestFolder",
    "Touched",
    "below_drops",
    "commands_alone",
    "slots_known",
]
