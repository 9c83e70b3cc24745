"""Published instances of guillotine cutting, with their known optima.

`GCUT`: J. E. Beasley, "Algorithms for unconstrained two-dimensional guillotine cutting",
Journal of the Operational Research Society 36(4), 1985, 297-306; sizes as in OR-Library,
read in the repository Oscar-Oliveira/OR-Datasets, Cutting-and-Packing/2D/Datasets/GCUT.
One sheet, any number of each piece, the most area; optima where pieces may be turned
(gcut1r to gcut5r) as published by G. Cintra, www.ime.usp.br/~glauber/gcut, proved there
by dynamic programming.

`HOPPER`: E. Hopper, "Two-dimensional packing utilising evolutionary algorithms and other
meta-heuristic methods", University of Wales, 2000; the sets T, read in the same
repository, Datasets/HOPPER. Every piece once, out of 200 by 200: the areas add up to
the sheet, so nothing is left over at best.
"""


def _pairs(text: str) -> list[tuple[int, int]]:
    numbers = [int(one) for one in text.split()]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


# Name: side of the square sheet, largest area, pieces.
GCUT = {
    "gcut1r": (
        250,
        58136,
        _pairs(
            "167 184 114 118 167 152 83 140 70 86 143 166 120 160 66 148 87 141 69 165"
        ),
    ),
    "gcut2r": (
        250,
        60611,
        _pairs(
            "120 133 135 186 86 75 103 73 66 85 135 97 91 175 131 176 71 176 153 72 "
            "87 148 168 107 118 90 140 109 132 159 152 93 135 68 121 158 68 94 155 76"
        ),
    ),
    "gcut3r": (
        250,
        61626,
        _pairs(
            "66 80 164 107 64 184 121 86 163 135 85 98 81 102 103 186 152 106 176 139 "
            "111 118 69 169 146 133 112 112 133 160 63 129 163 152 110 155 96 136 92 "
            "142 84 143 119 133 71 71 146 84 93 86 89 86 101 146 172 73 73 169 99 99"
        ),
    ),
    "gcut5r": (
        500,
        246000,
        _pairs(
            "198 205 179 155 364 236 272 147 352 145 343 245 132 174 164 250 282 356 "
            "342 151"
        ),
    ),
}

HOPPER_SIDE = 200
HOPPER = {
    "t1a": _pairs(
        "82 38 37 13 81 22 16 25 21 64 29 55 52 178 98 39 102 37 46 103 29 86 10 37 "
        "63 26 50 11 13 40 60 29 119 20"
    ),
    "t4a": _pairs(
        "26 25 9 28 47 23 18 42 13 52 45 94 8 40 34 12 11 28 23 63 28 5 19 17 7 33 "
        "19 15 37 12 75 18 19 35 6 37 12 10 25 27 56 41 4 14 22 6 8 8 14 15 12 7 32 "
        "19 10 68 57 20 52 35 25 26 34 101 5 29 36 9 38 20 6 20 30 22 20 11 18 24 10 "
        "9 15 23 11 2 62 14 61 13 104 18 62 20 91 39 13 2 75 37"
    ),
}
