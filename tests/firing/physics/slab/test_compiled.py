"""When a compiled entry is compiled anew: its fingerprint over what it is linked from."""

from types import ModuleType

import numpy as np

from firing.physics.slab.compiled import entry, fingerprint, kernel


def module(text):
    made = ModuleType("made")
    exec(compile(text, "made.py", "exec"), made.__dict__)
    return made


PLAIN = "LIMIT = 3.0\ndef warm(t):\n    return t + LIMIT\n"


def test_the_same_code_has_the_same_fingerprint():
    assert fingerprint(module(PLAIN)) == fingerprint(module(PLAIN))
    remarked = PLAIN.replace("def warm", "# Said anew.\ndef warm")
    assert fingerprint(module(remarked)) == fingerprint(module(PLAIN))


def test_other_code_a_constant_or_a_name_changes_it():
    before = fingerprint(module(PLAIN))
    for old, new in (
        ("3.0", "3.1"),
        ("t + LIMIT", "t - LIMIT"),
        ("t + LIMIT", "t + 3.0"),
    ):
        assert fingerprint(module(PLAIN.replace(old, new))) != before
    assert fingerprint(module(PLAIN), np) != before


def test_a_kernel_counts_by_its_own_code():
    plain, made = module(PLAIN), module(PLAIN)
    made.warm = kernel(made.warm)
    assert fingerprint(made) == fingerprint(plain)
    made.warm = entry(plain.warm)
    assert fingerprint(made) == fingerprint(plain)
