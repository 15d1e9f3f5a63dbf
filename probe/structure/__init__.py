"""How the chip is built, told by time alone: units, clock, warps, caches.

Asks nobody: neither the driver's counts nor any table enter. What can't be told stays
absent, with its reason. Imports nothing but the seam and the record.
"""
