"""Judges a card's record before a repair against the one after it.

Pure: sees two records and the table, no device, no clock, no file.
"""
