"""What can be wrong with reads of a firmware chip before anything is understood."""


class ReadError(Exception):
    """The bytes given are no usable reads. The message says which and why."""
