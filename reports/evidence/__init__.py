"""The evidence pack: a listing's words, photos and a record, made into one zip.

Here belongs what a buyer hands to a seller or a marketplace: the case, the photos as
they may be shown, the letter, the page, the zip. It judges nothing: the verdict is the
record's. It opens no file and asks no clock; whoever calls gives bytes and a date.
"""
