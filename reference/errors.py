"""Errors of the table of genuine cards."""


class TableError(Exception):
    """A table file is broken. The message names every mistake: file, place, reason."""

    def __init__(self, mistakes: tuple[str, ...]) -> None:
        super().__init__("\n".join(mistakes))
        self.mistakes = mistakes
