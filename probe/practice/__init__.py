"""The practice card: a simulated card behind `probe.device.Device`.

It lets anyone without a card, and every test, run the whole program. Nothing here
touches hardware, OpenCL or a real clock. `open_practice` is the one way in; the
record of such a run says that no real card was tested.
"""
