"""Heat and stress in glass, in pure Python: what a firing does to a slab.

Read it in this order; nothing imports from further down the list.

- `refusals`: why something cannot be computed, as a kind with its quantities.
- `schedule`: a programme of segments, and the curve it asks for; `limits` of tension.
- `glass`: properties, families, and whether two glasses may be fused together.
- `slab`: conduction, relaxation, stress; `march` steps them through one firing.
- `kiln`: how a kiln heats and cools, what was recorded, its thermocouple's offset.
- `designing`: the published table, bands of uncertainty, the search for a schedule.
- `judging`: readings against their plan, the verdict, and what to do next.
- `formats`: designs, firings and verdicts as mappings for the commands.
"""
