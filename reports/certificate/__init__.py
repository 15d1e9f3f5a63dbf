"""Certificates: a record that is as claimed, signed as stored, on one sheet.

Imports nothing above reports. Reads no clock, asks nobody anything: time, passphrase
and key are handed in. `making.certify` and `checking.verify` are the two ways in.
"""
