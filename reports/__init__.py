"""The record of one tested card, and every way it is shown or kept.

Knows nothing of devices or of the table of genuine cards.
"""
