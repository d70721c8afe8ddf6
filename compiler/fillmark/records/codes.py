"""What is said of filled records: codes, their weight, and what each means."""

from fillmark.diagnostics import Severity
from fillmark.records.record import NOWHERE, Finding, Place

_E, _W = Severity.ERROR, Severity.WARNING

KNOWN: dict[str, tuple[str, Severity, str]] = {
    "EVA01": (
        "record-unreadable",
        _E,
        (
            "A file that cannot be read as a record: no JSON, CSV or XLSX, not in a known encoding, cut "
            "short, or larger than a record can be. Nothing of it is used."
        ),
    ),
    "EVA02": (
        "record-columns",
        _E,
        (
            "A column of a CSV or worksheet that is missing, comes twice or is not known, or a row with "
            "more cells than there are columns. Which value belongs to which field is then a guess, and "
            "none is made."
        ),
    ),
    "EVA03": (
        "record-field-unknown",
        _E,
        (
            "An entry under a name that this method's sheet does not have, or a name that comes twice. It "
            "is not used, and the result may lack what it was meant to say."
        ),
    ),
    "EVA04": (
        "number-not-understood",
        _E,
        (
            "An entry that is no number, or can be read as two. A comma followed by three digits may be a "
            "decimal comma or group the digits: a factor of 1000. It is refused, never guessed."
        ),
    ),
    "EVA05": (
        "time-not-understood",
        _E,
        (
            "A day or time that is not written as ISO 8601 has it. 03/04/2026 is in March to one reader "
            "and in April to the other."
        ),
    ),
    "EVA06": (
        "entry-missing",
        _E,
        (
            "Entries without which the result cannot be traced or judged. An empty field is no value, and "
            "n/a is none either."
        ),
    ),
    "EVA07": (
        "cell-without-value",
        _E,
        (
            "A cell of a worksheet that has no value of its own: a formula that was never worked out, an "
            "error, a yes/no, or a merged cell."
        ),
    ),
    "EVA08": (
        "cell-calculated",
        _W,
        (
            "A cell that holds a formula. Its last value is taken, but what was observed is written down, "
            "not calculated; a formula can change after the fact."
        ),
    ),
    "EVA09": (
        "entry-should-be-there",
        _W,
        "Entries that the sheet asks for and whose lack leaves something unjudged.",
    ),
    "EVA10": (
        "choice-not-understood",
        _E,
        "An entry that should be one of a few words, and is another.",
    ),
    "EVA11": (
        "method-not-found",
        _E,
        "No method of this id can be found, or it cannot be compiled. Without it nothing is judged.",
    ),
    "EVA12": (
        "wrong-revision",
        _E,
        (
            "The sheet was filled by another revision than the one it is judged by. Limits, times and "
            "factors may differ, so nothing is worked out."
        ),
    ),
    "EVA13": (
        "wrong-digest",
        _E,
        (
            "The digest printed on the sheet is not that of the method: text, reference data or site "
            "policy have changed since it was printed. Nothing is worked out."
        ),
    ),
    "EVA14": (
        "wrong-equipment",
        _E,
        (
            "Something was used that the method does not name. A wrong spring is a factor of 2 to 85, a "
            "wrong spindle another factor, a missing guard reads low."
        ),
    ),
    "EVA15": (
        "equipment-out-of-date",
        _E,
        (
            "Equipment whose calibration was not in date on the day of the measurement, or a reference "
            "fluid past its date. Nobody knows by how much it was off."
        ),
    ),
    "EVA16": (
        "instrument-not-listed",
        _W,
        (
            "An instrument that the laboratory's list does not have, so that its spring, coupling and "
            "readout cannot be looked up."
        ),
    ),
    "EVA17": (
        "own-work-checked",
        _E,
        "The person who measured is the person who checked. What one overlooks, one overlooks twice.",
    ),
    "EVA18": (
        "times-out-of-order",
        _E,
        (
            "Times that cannot be: measured before it was sampled, read before the motor started, checked "
            "before it was done."
        ),
    ),
    "EVA19": (
        "age-outside-limits",
        _E,
        "The sample was younger or older than the method allows when it was measured.",
    ),
    "EVA20": (
        "conditioning-too-short",
        _E,
        (
            "The sample left the bath before its time. Its middle had not reached the temperature: a "
            "sample that is still warm reads low."
        ),
    ),
    "EVA21": (
        "rest-outside-limits",
        _W,
        (
            "The rest before the run was not kept. A product with a memory that has not rested reads low; "
            "one that rested far too long may read high."
        ),
    ),
    "EVA22": (
        "filling-outside-limits",
        _E,
        (
            "Level, mass, cover or depth was outside what the method allows; a spindle that hangs too "
            "deep reads high, too shallow low."
        ),
    ),
    "EVA23": (
        "temperature-outside-limits",
        _E,
        ("The sample was too warm or too cold, before or after the run. Too warm reads low, too cold high."),
    ),
    "EVA24": (
        "temperature-drift",
        _W,
        (
            "The temperature moved during the run by more than the site policy allows: the sample was not "
            "at rest with its bath."
        ),
    ),
    "EVA25": (
        "zero-outside-limits",
        _E,
        (
            "With no spindle on the instrument did not read zero. What it reads then is added to every "
            "torque, and at a low torque it counts most."
        ),
    ),
    "EVA26": (
        "verification-failed",
        _E,
        (
            "The reference fluid read outside its band, or was measured at a wrong temperature. No result "
            "of that instrument stands until it passes again; look back to the last pass."
        ),
    ),
    "EVA27": (
        "verification-contradicts-itself",
        _E,
        (
            "The entries of the check do not agree with each other: verdict and reading, torque and "
            "reading, or its day and that of the measurement."
        ),
    ),
    "EVA28": (
        "read-at-another-time",
        _E,
        (
            "The reading was not taken when the method says. Early, the spring has not wound up (low) or "
            "a thixotropic product has not broken down (high)."
        ),
    ),
    "EVA29": (
        "torque-below-floor",
        _W,
        (
            "The torque was below the floor of the site policy. The reading is a bound, written as the "
            "sheet prints it, and is never averaged."
        ),
    ),
    "EVA30": (
        "torque-above-ceiling",
        _W,
        "The torque was above full scale. The reading is a bound and is never averaged.",
    ),
    "EVA31": (
        "torque-impossible",
        _E,
        "A torque that no instrument shows: negative, or far above full scale. It is not used.",
    ),
    "EVA32": (
        "display-disagrees",
        _E,
        (
            "Display and torque times factor differ by more than the steps of the readout: the instrument "
            "had another spindle, speed or spring entered, or one of the two was copied wrongly."
        ),
    ),
    "EVA33": (
        "bound-written-wrongly",
        _E,
        (
            "A bound other than the one the sheet prints for this speed, or a bound where the torque "
            "gives a number."
        ),
    ),
    "EVA34": (
        "replicates-missing",
        _E,
        "Fewer replicates than the method asks for, or one without all its speeds.",
    ),
    "EVA35": (
        "replicates-too-many",
        _E,
        (
            "More readings than the method asks for without a reason for them. Choosing among results is "
            "no measurement."
        ),
    ),
    "EVA36": (
        "replicates-disagree",
        _E,
        (
            "The replicates are further apart than the method allows. A mean of them would hide that one "
            "of them, or the sample, is wrong."
        ),
    ),
    "EVA37": (
        "bounds-among-values",
        _E,
        (
            "Some replicates are bounds, others numbers. They have no mean; only where all lie on one "
            "side of a limit is anything decided."
        ),
    ),
    "EVA38": ("arithmetic", _W, "Something worked out by hand does not come to what the entries give."),
    "EVA39": (
        "reported-wrongly",
        _E,
        (
            "The reported value or verdict on the sheet is not what the entries give by the method's "
            "rules of rounding and decision."
        ),
    ),
    "EVA40": (
        "outside-limits",
        _W,
        "The result stands, and it is outside the limits of the specification.",
    ),
    "EVA41": (
        "not-decided",
        _W,
        (
            "The result lies so near to a limit that the decision rule does not let it pass, or so that "
            "nothing is decided."
        ),
    ),
    "EVA42": (
        "correction-incomplete",
        _E,
        (
            "A correction without the old value, initials, day or reason. Who changed what, when and why "
            "cannot be told."
        ),
    ),
    "EVA43": ("record-empty", _E, "A record in which nothing is filled in."),
    "EVA44": (
        "record-twice",
        _W,
        "The same record again among those named: same method, sample and time.",
    ),
    "EVA45": (
        "revision-recalled",
        _E,
        (
            "The whole revision the sheet belongs to was called back. What was measured by it does not "
            "stand until somebody has judged what the reason for the recall did to it."
        ),
    ),
}

CODES: dict[str, tuple[str, str]] = {code: (slug, text) for code, (slug, _, text) in KNOWN.items()}


def found(
    code: str,
    message: str,
    *ways: str,
    field: str = "",
    place: Place = NOWHERE,
    severity: Severity | None = None,
) -> Finding:
    """Make a finding of a code, of the weight the code has unless said otherwise."""
    slug, weight, _ = KNOWN[code]
    return Finding(code, slug, severity or weight, message, ways, field, place)
