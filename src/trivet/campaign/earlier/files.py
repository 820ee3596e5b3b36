"""Files of earlier campaigns that a comparison reads, by their paths below the campaign folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from trivet.schema.settings.inference import Earlier

BAG_TABLES = "data/tables"
MANIFEST = "manifest-sha256.txt"
READ_OF_BAG = ("cells", "lifetimes")
"""Tables of an archive that are read; nothing else of it is."""


def files_of(earlier: Earlier) -> list[str]:
    """Files of one earlier campaign.

    Parameters
    ----------
    earlier : Earlier
        The campaign, as named in the settings.
    """
    if earlier.archive is None:
        return [] if earlier.table is None else [earlier.table]
    bag = earlier.archive.rstrip("/")
    tables = [f"{bag}/{BAG_TABLES}/{name}.parquet" for name in READ_OF_BAG]
    return [*tables, f"{bag}/{MANIFEST}"]


def earlier_files(earlier: Sequence[Earlier | Mapping[str, Any]]) -> list[str]:
    """Files of all earlier campaigns, in the order of the settings.

    Parameters
    ----------
    earlier : sequence of Earlier or mapping
        The setting of this name, as a block or as written to a job.
    """
    return [path for one in earlier for path in files_of(Earlier.model_validate(one))]
