"""Genuine cards: the table, the physics that makes envelopes of its rows, the judging.

Pure: no device, no clock, no randomness. Reads only its own data files.
"""
