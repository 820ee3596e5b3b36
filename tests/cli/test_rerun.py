"""`trivet rerun` reads what lies in the bag, and nothing that the bag leads to."""

from __future__ import annotations

from pathlib import Path

import pytest

from trivet.cli.rerun import rerun
from trivet.errors import InputError


@pytest.mark.parametrize("linked", ["data", "data/raw", "data/raw/a.csv"])
def test_a_bag_that_leads_elsewhere_is_refused(tmp_path: Path, linked: str) -> None:
    """A link is refused by its name, whether it stands for the payload, a folder or a file."""
    raw = tmp_path / "bag" / "data" / "raw"
    raw.mkdir(parents=True)
    (raw / "a.csv").write_text("1", encoding="utf-8")
    link = tmp_path / "bag" / linked
    link.rename(tmp_path / "outside")
    link.symlink_to(tmp_path / "outside")
    with pytest.raises(InputError) as refused:
        rerun(tmp_path / "bag", cores=1)
    assert [problem.file for problem in refused.value.problems] == [str(link)]
    assert "is a link" in refused.value.problems[0].message
