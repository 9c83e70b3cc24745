"""When a compiled entry is compiled anew: its fingerprint over what it is linked from."""

from types import ModuleType

import pytest

from firing.physics.slab.compiled import entry, fingerprint, kernel


def module(text):
    made = ModuleType("made")
    exec(compile(text, "made.py", "exec"), made.__dict__)
    return made


PLAIN = "LIMIT = 3.0\nOTHER = 3.0\ndef warm(t):\n    return t + LIMIT\n"


def test_the_same_code_has_the_same_fingerprint():
    assert fingerprint(module(PLAIN)) == fingerprint(module(PLAIN))
    remarked = PLAIN.replace("def warm", "# Said anew.\ndef warm")
    assert fingerprint(module(remarked)) == fingerprint(module(PLAIN))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("3.0", "3.1"),
        ("t + LIMIT", "t - LIMIT"),
        ("t + LIMIT", "t + 3.0"),
        ("t + LIMIT", "t + OTHER"),
    ],
)
def test_other_code_another_constant_or_name_changes_it(old, new):
    assert fingerprint(module(PLAIN.replace(old, new))) != fingerprint(module(PLAIN))


def test_every_module_counts():
    assert fingerprint(module(PLAIN), module("MOST = 2")) != fingerprint(module(PLAIN))


def test_a_kernel_counts_by_its_own_code():
    plain, made = module(PLAIN), module(PLAIN)
    made.warm = kernel(made.warm)
    assert fingerprint(made) == fingerprint(plain)
    made.warm = entry(plain.warm)
    assert fingerprint(made) == fingerprint(plain)
