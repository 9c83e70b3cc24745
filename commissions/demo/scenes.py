"""What the demo's pieces show: four scenes at the edge of the tide, all invented."""

from commissions.demo import brushes
from commissions.demo.pictures import Part, Scene

SUN = 0.56
_INK, _SLATE, _BLUE = (46, 52, 54), (102, 124, 146), (86, 124, 156)
SLUICE = Scene(
    0.42,
    (
        Part("sky", brushes.sky(_BLUE, 0.78)),
        Part("glow", brushes.glow((246, 178, 104), SUN, 0.8)),
        Part("high cloud", brushes.clouds((120, 134, 156), 0.16, 0.1, 0.55)),
        Part("low cloud", brushes.clouds((170, 132, 128), 0.33, 0.06, 0.55)),
        Part("far hills", brushes.hills((132, 150, 172), 0.13, 0.45)),
        Part("near hills", brushes.hills(_SLATE, 0.075, 0.6, 11)),
        Part("far shore", brushes.trees((58, 74, 78), 0.045, 0.75, mirror=0.5)),
        Part("open water", brushes.water((82, 122, 142), 0.0, 0.26, 0.75, SUN)),
        Part("sandbanks", brushes.flats((176, 138, 96), 0.05, 0.5, 0.7, SUN)),
        Part("channel", brushes.channel((60, 104, 122), (78, 66, 54), SUN)),
        Part("creeks", brushes.runnels((84, 92, 92), SUN)),
        Part("mud", brushes.flats((122, 98, 78), 0.26, 1.3, 0.85, SUN)),
        Part(
            "withies",
            brushes.posts(
                _INK,
                [
                    (0.60 + 0.19 * n - 0.12 * n * n, n)
                    for n in (0.06, 0.1, 0.15, 0.22, 0.3, 0.4)
                ],
                0.2,
            ),
        ),
        Part("saltmarsh", brushes.tufts((92, 98, 56), 0.3, 1.0, 170)),
        Part("ripples", brushes.ripples((52, 74, 86), 0.5, SUN)),
        Part("birds", brushes.birds(_INK, 11, 0.34, 0.12)),
        Part(
            "mooring posts",
            brushes.posts(_INK, brushes.points("0.24,0.52 0.31,0.6 0.205,0.7"), 0.34),
        ),
        Part(
            "marsh grass",
            brushes.stand(
                (62, 76, 44),
                (128, 96, 60),
                [(0.72, 1.02, 0.3), (-0.02, 0.2, 0.26)],
                1.01,
                count=240,
                heads=0.12,
            ),
        ),
        Part("sluice gate", brushes.gate((54, 46, 42))),
    ),
)


_PLUM = (96, 74, 104)
FLATS = Scene(
    0.36,
    (
        Part("dusk", brushes.sky((112, 98, 150), 0.8, power=0.9)),
        Part("afterglow", brushes.glow((250, 132, 84), 0.3, 0.9, 0.8)),
        Part("cloud bars", brushes.bars(_PLUM, 0.75)),
        Part("far spit", brushes.trees((64, 54, 74), 0.03, 0.85, mirror=0.6)),
        Part(
            "wet sand", brushes.reflected((222, 140, 118), (150, 124, 170), 0.62, 0.3)
        ),
        Part("pools", brushes.pools((112, 84, 88))),
        Part("old wreck", brushes.wreck((48, 36, 44))),
        Part("curlews", brushes.waders((42, 34, 42))),
    ),
)


_REED, _PLUME, _MOSS = (70, 84, 50), (142, 104, 66), (58, 84, 80)
REEDS = Scene(
    0.34,
    (
        Part("morning sky", brushes.sky((150, 178, 172), 0.75)),
        Part("sunrise", brushes.glow((240, 208, 132), 0.62, 0.75, 0.6)),
        Part("mist", brushes.mist((150, 168, 172), 0.55)),
        Part("far trees", brushes.trees((98, 124, 122), 0.1, 0.55, mirror=0.0)),
        Part("light on the water", brushes.deep((196, 208, 168), 0.6)),
        Part("willows", brushes.willows((78, 102, 82), is_mirrored=False)),
        Part("willows, mirrored", brushes.willows(_MOSS, is_mirrored=True)),
        Part("slack water", brushes.deep((96, 138, 134), 0.85)),
        Part("cloud in the water", brushes.cloud_in_water((74, 110, 120))),
        Part(
            "far reeds",
            brushes.stand(
                (104, 116, 74),
                _PLUME,
                [(0.38, 1.02, 0.09), (-0.02, 0.1, 0.07)],
                0.37,
                count=420,
                mirror=0.5,
                wide=0.002,
            ),
        ),
        Part("swallows", brushes.birds((44, 56, 60), 6, 0.3, 0.1)),
        Part("punt", brushes.punt((58, 54, 46))),
        Part(
            "middle reeds",
            brushes.stand(
                _REED,
                _PLUME,
                [(0.66, 1.02, 0.34), (-0.02, 0.16, 0.26)],
                0.64,
                count=230,
                mirror=0.6,
            ),
        ),
        Part("lilies", brushes.lilies((76, 104, 62))),
        Part(
            "near reeds",
            brushes.stand(
                (52, 66, 40),
                (116, 84, 54),
                [(0.78, 1.04, 0.72), (-0.04, 0.2, 0.6)],
                1.0,
                count=150,
                wide=0.005,
            ),
        ),
        Part("rings", brushes.rings((46, 74, 80), [(0.4, 0.83), (0.62, 0.72)])),
        Part(
            "bulrushes",
            brushes.stand(
                (60, 70, 44),
                (84, 58, 40),
                [(0.04, 0.3, 0.5)],
                1.0,
                count=60,
                heads=1,
                wide=0.005,
            ),
        ),
        Part("dragonflies", brushes.birds((40, 62, 76), 3, 0.6, 0.5)),
        Part(
            "edge of the bank",
            brushes.stand(
                (40, 50, 32),
                _PLUME,
                [(-0.05, 1.05, 0.16)],
                1.02,
                count=160,
                heads=0,
                wide=0.006,
            ),
        ),
    ),
)


_STEEL, _SEA = (104, 116, 130), (84, 106, 114)
WINTER = Scene(
    0.4,
    (
        Part("winter sky", brushes.sky((146, 158, 168), 0.7, power=0.6)),
        Part("squall", brushes.squall((84, 92, 108))),
        Part("rain", brushes.rain(_STEEL)),
        Part(
            "far headland",
            brushes.cliff(
                (138, 146, 154),
                0.6,
                0.1,
                brushes.points("0,0.27 0.3,0.3 0.52,0.335 0.66,0.39 0.7,0.42 1,0.5"),
            ),
        ),
        Part(
            "headland",
            brushes.cliff(
                (92, 86, 82),
                0.95,
                0.5,
                brushes.points(
                    "0,0.12 0.12,0.135 0.22,0.2 0.27,0.29 0.36,0.33 0.43,0.42 0.6,0.5 1,0.6"
                ),
            ),
        ),
        Part("grey sea", brushes.water(_SEA, 0.0, 0.5, 0.75, 0.2)),
        Part("breakers", brushes.breakers((70, 92, 102))),
        Part("wet sand", brushes.wet_sand((158, 134, 108))),
        Part("shingle", brushes.shingle((84, 80, 80))),
        Part("groyne", brushes.groyne((56, 52, 50))),
        Part("gulls", brushes.birds((66, 70, 78), 7, 0.36, 0.14)),
    ),
)
