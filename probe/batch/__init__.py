"""A batch: one card after another, or several at once, from stock number to ledger.

A batch owns no measurement. Every card is a `cardassay check` in a process of its own;
what comes of it is certified and put into the ledger here, one after the other.

How two cards in one PC disturb each other, and what is done about it:

- *The link to the PC's memory* is shared behind one root port or switch, and by the
  memory itself. Its rate is what memory that lies in the PC is recognised by. It is
  measured in turn (`probe/turns.py`), also by two `check`s started by hand.
- *The PC's memory*: a counterfeit whose driver makes do with it takes it from all. A
  card beside it is then left without blocks: its proof ends "host memory", which leaves
  a verdict open and accuses nobody (`reference/rules/memory.py`); no rule judges how
  much of it was free. So much is kept free that each check has room (`sharing.py`).
- *Power and air*: heating and soaking are done in turn (`probe/turns.py`), unless a
  person says that the PC stands more (`--load-together`). Rates load a card for tenths
  of a second, as any program does.
- *Processors*: kernels are compiled and launches are fed by them. Cards are timed by
  their own clocks, so waiting costs time alone; but no more checks run at once than
  there are pairs of processors (`sharing.py`).
- *Built-in graphics* work in the PC's memory, at the processor's expense: alone.
- *The driver* is one for all cards of a maker: one that crashes or hangs over one card
  takes every run down. A card that contradicts itself already on the bus is tested
  alone, before the others. A run that was cut off beside others proves nothing against
  its card: it is repeated alone, once, and both records go into the ledger.

The state of a batch is its documents and nothing else: a folder for each stock number.
What was tested and neither certified nor in the ledger when the PC went down is found
there (`leftover.py`).
"""
