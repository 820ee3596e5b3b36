"""Fonts of the web page: the letters that stand in it, under a name of its own."""

from __future__ import annotations

import base64
import io

from fontTools import subset
from fontTools.ttLib import TTFont

from trivet.report.frame.style import font_files

_FACES = {
    "SourceSansPro-Regular.ttf": ("Trivet Sans", "400", "normal"),
    "SourceSansPro-It.ttf": ("Trivet Sans", "400", "italic"),
    "SourceSansPro-Semibold.ttf": ("Trivet Sans", "600", "normal"),
    "SourceSerifPro-Regular.ttf": ("Trivet Serif", "400", "normal"),
    "SourceSerifPro-It.ttf": ("Trivet Serif", "400", "italic"),
    "SourceSerifPro-Semibold.ttf": ("Trivet Serif", "600", "normal"),
}
"""Family, weight and style by file: a part of a font must not carry the reserved name of the whole
(SIL Open Font License 1.1, condition 3), only its copyright and licence."""
_LAYOUT = ("GDEF", "GPOS", "GSUB", "DSIG", "BASE")
"""Tables left out before anything reads them, which takes a second; all digits are equally wide."""
_COPYRIGHT, _LICENCE, _LICENCE_ADDRESS = 0, 13, 14
_FAMILY, _UNIQUE, _FULL, _POSTSCRIPT = 1, 3, 4, 6


def font_rules(text: str) -> str:
    """Give the style rules of all fonts, each with the letters of a text in it.

    Parameters
    ----------
    text : str
        All that stands in the page.
    """
    letters = "".join(sorted(set(text)))
    files = font_files()
    return "".join(
        f'@font-face {{ font-family: "{family}"; font-weight: {weight}; font-style: {style}; '
        f"src: url(data:font/woff2;base64,{_part(files[name], letters, family)}) "
        'format("woff2"); }\n'
        for name, (family, weight, style) in _FACES.items()
    )


def _part(font: bytes, letters: str, family: str) -> str:
    """Give a font of some letters, compressed, in base 64; the same bytes every time."""
    options = subset.Options(
        flavor="woff2",
        hinting=False,
        name_IDs=[_COPYRIGHT, _LICENCE, _LICENCE_ADDRESS],
    )
    with TTFont(io.BytesIO(font), recalcTimestamp=False) as opened:
        for table in _LAYOUT:
            if table in opened:
                del opened[table]
        cutter = subset.Subsetter(options)
        cutter.populate(text=letters)
        cutter.subset(opened)
        for identifier in (_FAMILY, _UNIQUE, _FULL, _POSTSCRIPT):
            opened["name"].setName(family, identifier, 3, 1, 0x409)
        opened.flavor = "woff2"
        target = io.BytesIO()
        opened.save(target)
    return base64.b64encode(target.getvalue()).decode()
