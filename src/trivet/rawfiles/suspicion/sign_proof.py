"""The sign of the current of a cell's files: proved, taken as declared, or wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trivet.rawfiles.reading.raw_read import RawRead
from trivet.rawfiles.suspicion.sign import SignEvidence, sign_evidence

_SIGN = "sign of current"


def prove_sign(reads: Sequence[RawRead]) -> list[RawRead]:
    """Prove the sign of each file; if one fails, no cycling file of the cell is used."""
    judged = [(read, _evidence(read)) for read in reads]
    wrong = [read.file.relative for read, evidence in judged if evidence.contradicts]
    if not wrong:
        return [_with_sign(read, evidence) for read, evidence in judged]
    message = f"the sign of the current is wrong in '{wrong[0]}', so no file of the cell is used"
    return [
        _with_sign(read, evidence)
        if evidence.contradicts or not len(read.lines)
        else read.refuse(_SIGN, message)
        for read, evidence in judged
    ]


def _evidence(read: RawRead) -> SignEvidence:
    """Evidence of one file for the sign of its current."""
    if not len(read.lines):
        return SignEvidence(0.0, 0.0)
    return sign_evidence(
        read.time_s, current_mA=read.values["current"], voltage_V=read.values["cell voltage"]
    )


def _with_sign(read: RawRead, evidence: SignEvidence) -> RawRead:
    """Say of one file what its sign rests on; set it aside where the voltage contradicts."""
    if not len(read.lines):
        return read
    read = replace(read, proof_mAh=(evidence.agreeing_mAh, evidence.contradicting_mAh))
    charge = f"{evidence.agreeing_mAh:.4g} mAh for it, {evidence.contradicting_mAh:.4g} mAh against"
    if evidence.contradicts:
        line = None if evidence.first_row is None else int(read.lines[evidence.first_row])
        message = f"the voltage contradicts the declared sign of the current: {charge}"
        if read.two_currents:
            message += "; are the columns of charge and discharge current exchanged in the layout?"
        return read.refuse(_SIGN, message, line=line)
    if evidence.found:
        return read.assume(f"sign of current as declared, proved by the voltage: {charge}")
    message = "no stretch of constant current is long enough to prove the sign"
    noted = read.note(_SIGN, "note", message, action="taken as declared")
    return noted.assume("sign of current as declared, not proved")
