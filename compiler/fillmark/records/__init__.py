"""Filled records: from the sheet as it was filled in to a result that stands, or to the reasons why not.

`reading.py` takes JSON, CSV and XLSX apart into entries as they were typed; `fields.py` knows what the sheet of a
method asks; `evaluate.py` understands and judges the entries and works the result out. Nothing is guessed or
repaired: each entry is kept as typed, beside what it was understood as.
"""
