import os

from trivet.results.opened import Results

__version__: str

def open(folder: str | os.PathLike[str]) -> Results: ...
