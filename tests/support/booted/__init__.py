"""Boots a real Debian systemd in a container and drives it: a server that the service can be installed on."""

from tests.support.booted.able import why_not
from tests.support.booted.base import CHECKOUT, INSTALL, make_base, with_package
from tests.support.booted.guest import Guest, Share, boot
from tests.support.booted.stage import Layers

__all__ = ["CHECKOUT", "INSTALL", "Guest", "Layers", "Share", "boot", "make_base", "why_not", "with_package"]
