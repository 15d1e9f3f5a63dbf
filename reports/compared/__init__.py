"""Two records of one card beside each other, before a repair and after it.

Types, words and renderings. What became of what is `reference.repaired`'s to say.
"""
