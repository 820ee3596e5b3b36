"""What the marks of a figure are about, so that the web page can dim those of others.

The drawing library keeps an address beside each mark. Here it names a cell or groups; in the
figure it becomes an attribute, and nothing leads anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from urllib.parse import quote, unquote

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import Collection
from matplotlib.container import Container

ADDRESS = "trivet:"
CELL, GROUPS = "data-cell", "data-group"
"""Attributes of a mark in a figure: names as in an address, several apart by spaces."""


def of_cell(artists: Iterable[Artist | Container], cell: str) -> None:
    """Say that marks are about a cell.

    Parameters
    ----------
    artists : iterable of matplotlib.artist.Artist
        Lines, or containers of them.
    cell : str
        Its name.
    """
    _name(artists, f"{ADDRESS}{CELL}/{quote(cell, safe='')}")


def of_groups(artists: Iterable[Artist | Container], *groups: str) -> None:
    """Say that marks are about groups.

    Parameters
    ----------
    artists : iterable of matplotlib.artist.Artist
        Lines, or containers of them.
    *groups : str
        Their names.
    """
    _name(artists, f"{ADDRESS}{GROUPS}/{'+'.join(quote(group, safe='') for group in groups)}")


def marks_in(axes: Axes) -> list[Artist]:
    """Lines and collections of a panel that shows one cell or one group."""
    return [*axes.lines, *axes.collections]


def each_of_a_cell(collection: Collection, cells: Sequence[str]) -> None:
    """Say of every path of a collection which cell it is about.

    Parameters
    ----------
    collection : matplotlib.collections.Collection
        Paths drawn in one piece.
    cells : sequence of str
        The cell of each.
    """
    collection.set_urls([f"{ADDRESS}{CELL}/{quote(cell, safe='')}" for cell in cells])


def attribute_of(address: str) -> tuple[str, str]:
    """Attribute and value that an address becomes; its names stay quoted.

    Raises
    ------
    ValueError
        It is not one of a mark.
    """
    name, stroke, value = address.removeprefix(ADDRESS).partition("/")
    if not address.startswith(ADDRESS) or not stroke or name not in (CELL, GROUPS):
        raise ValueError(f"an address in a figure that is not of a mark: {address}")
    return name, value.replace("+", " ")


def names_of(value: str) -> tuple[str, ...]:
    """Names in the value of an attribute."""
    return tuple(unquote(name) for name in value.split())


def _name(artists: Iterable[Artist | Container], address: str) -> None:
    """Keep an address beside marks and the parts of containers."""
    for artist in artists:
        parts = [artist] if isinstance(artist, Artist) else artist.get_children()
        for part in parts:
            if isinstance(part, Collection):
                part.set_urls([address])
            else:
                part.set_url(address)
