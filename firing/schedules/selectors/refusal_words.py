"""The model's refusals in the reader's units: it says everything in °C, °C/h and mm."""

import re

from studio.reader import Reader

NUMBER = r"(-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)"
RATE = re.compile(rf"{NUMBER} °C/h")
TEMPERATURE = re.compile(rf"{NUMBER} °C(?!/)")
LENGTH = re.compile(rf"{NUMBER} mm\b")


def refusal_words(text: str, reader: Reader) -> str:
    """Return a refusal with its temperatures, rates and lengths as the reader has them.

    A refusal holds no difference of temperature in °C: those are in K.
    """
    text = RATE.sub(lambda found: reader.rate(float(found.group(1))), text)
    text = TEMPERATURE.sub(
        lambda found: reader.temperature(float(found.group(1))), text
    )
    return LENGTH.sub(lambda found: reader.length(float(found.group(1))), text)
