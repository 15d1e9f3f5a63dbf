"""Errors of records and of what is made from them."""


class RecordError(Exception):
    """A record could not be read or written. The message names file and place."""
