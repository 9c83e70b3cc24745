"""How parts are cut from sheets of glass by straight scores from edge to edge.

Pure: whole tenths of a millimetre in, layouts as trees of scores out. To be read in this
order: `problem` (parts, stock, terms), `layout` (trees of scores), `check` (whether a
plan can be cut, without the search), `fill` (one greedy plan), `plan` (the search).
"""
