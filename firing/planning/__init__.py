"""Who fires what, when and in which kiln, in pure Python.

Read it in this order; nothing imports from further down the list, except that `spans`
stands by itself.

- `spans`: free kiln time, where a booking may move, a person's hours at the bench.
- `packing`: rectangles on shelves.
- `problem`: the workshop as numbers and tables, and a plan as plain values.
- `proofs`: the checker that every plan must pass, and lower bounds.
- `search`: the board, construction, improvement, planning again with few moves.
- `promises`: the earliest honest date, and why it is not sooner.
"""
