"""No regular expression of the program takes for ever: each is tried on texts made to lead it astray.

A pattern that backtracks through all ways of parting a text doubles its work with each letter: at the lengths
tried here it would not end while anybody waits. What only grows with the square or the cube ends at once, and
is held by the longest text that a method may have.
"""

import json
import subprocess
import sys

TOKENS = [
    "a", "1", " ", "\n", "a ", "1 ", "1.", "1 - ", "- ", ". ", "the ", "take the guard ", "spindle no. ", "with a b ",
    "correct a ", "read a ", "repeat ", "ISO 1-", "discard a ", "earlier a ", "at a ", "1,", "1e", "{{ a ", "?.", "_*",
    "a-", "=a", "run without ", "1 rpm ", "1 to ", "1.5 °C ± ", "+/-", "+1-", "should be ", "be aly ", "A1/", "x-1",
    "best two of ", "\t", "\r\n", "a: ", "!a ", "&a ", "*a ", "\"'", "\\", "²³⁻", "0x", "--", "a.b.", "::", ";", "|",
]  # fmt: skip
LENGTH = 200

TRYING = """
import importlib, json, pkgutil, re, sys
import fillmark

patterns = {}

def gather(value):
    if isinstance(value, re.Pattern) and isinstance(value.pattern, str):
        patterns[value.pattern, value.flags] = value
    elif isinstance(value, dict):
        for inner in value.values():
            gather(inner)
    elif isinstance(value, (list, tuple, set, frozenset)):
        for inner in value:
            gather(inner)

for module in pkgutil.walk_packages(fillmark.__path__, "fillmark."):
    if not module.name.endswith("__main__"):
        for value in vars(importlib.import_module(module.name)).values():
            gather(value)
tokens, length = json.load(sys.stdin)
for found in patterns.values():
    for token in tokens:
        text = token * (length // len(token)) + "\\x01"
        found.search(text), found.fullmatch(text), sum(1 for _ in found.finditer(text))
print(len(patterns))
"""


def test_no_pattern_backtracks_without_end():
    done = subprocess.run(
        [sys.executable, "-c", TRYING],
        input=json.dumps([TOKENS, LENGTH]),
        capture_output=True,
        text=True,
        timeout=300,  # it ends within seconds, or not at all
        check=True,
    )
    assert int(done.stdout) > 80
