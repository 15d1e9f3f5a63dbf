"""Firmware images: what is in them, and what follows for a card and for a claim.

Bytes in, frozen facts out, then findings. Nothing here opens a file or a device, and
nothing trusts a single byte: every offset is checked, every text made harmless.
"""
