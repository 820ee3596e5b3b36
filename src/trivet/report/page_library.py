"""What the report takes of the library that lays out its pages, imported in one place.

At its import the library warns of a library of the system that it can do without; where warnings
are errors, that would leave a campaign without its report.
"""

import warnings

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", "HarfBuzz-Subset", DeprecationWarning)
    from weasyprint import HTML, Attachment
    from weasyprint.document import Document
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import URLFetcher, URLFetcherResponse

__all__ = [
    "HTML",
    "Attachment",
    "Document",
    "FontConfiguration",
    "URLFetcher",
    "URLFetcherResponse",
]
