"""The physics behind the checks: pure functions of plain floats in SI, one topic a module.

`_percent` in a name means per cent, `rpm` revolutions a minute; everything else is SI. A docstring gives, in
this order, what the function gives, the equation, the symbols with units, where it holds, where it comes
from, and a worked example. ValueError means that the input cannot exist; a poor input is for the rules.
"""
