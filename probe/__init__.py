"""Everything that touches a card, and the command line that composes the whole."""
