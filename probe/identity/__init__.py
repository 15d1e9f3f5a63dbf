"""Which cards are in this PC, and what every layer that can be asked says of them."""
