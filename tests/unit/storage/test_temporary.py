"""Names of temporary files."""

from __future__ import annotations

from lanternslide.storage import is_temporary_of, temporary_name


def test_temporary_names_are_hidden_and_known() -> None:
    """A temporary name begins with a dot and is recognised as its own ledger's alone."""
    name = temporary_name("abcd1234-beef", 7)

    assert name.startswith(".")
    assert is_temporary_of("abcd1234", name)
    assert not is_temporary_of("abcd", name)
    assert not is_temporary_of("ffff0000", name)
    assert not is_temporary_of("abcd1234", name.removesuffix(".part"))
    assert not is_temporary_of("abcd1234", "grey-seal.jpg")
    assert temporary_name("abcd1234-beef", 8) != name != temporary_name("abcd1234-cafe", 7)
