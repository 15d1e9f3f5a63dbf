"""The ledger: every record of a bench, kept as stored and found again.

Imports nothing above reports. `store.open_ledger` is the way in. Reads no clock and
prints nothing; SQLAlchemy is imported by whoever opens a ledger, never at start-up.
"""
