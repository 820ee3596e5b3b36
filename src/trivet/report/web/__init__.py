"""The report as a web page: one file that asks for nothing outside itself."""
