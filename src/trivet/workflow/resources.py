"""What a cluster is asked for by rule: memory and time of a job."""

from __future__ import annotations

from typing import Any, Protocol

from trivet.stages.contract import Stage


class _Sized(Protocol):
    """Inputs of a job as Snakemake gives them."""

    size_mb: float


def resources_of(stage: Stage) -> dict[str, Any]:
    """What a cluster is asked for: more memory for larger inputs, and at each further attempt.

    A table takes about ten times its size on disk once it is unpacked.
    """

    def memory_MB(wildcards: object, input: _Sized, attempt: int) -> int:
        return int((stage.memory_MB + 10 * input.size_mb) * 2 ** (attempt - 1))

    def minutes(wildcards: object, attempt: int) -> int:
        return stage.minutes * attempt

    return {"mem_mb": memory_MB, "runtime": minutes}
