"""Files from people who mean harm, through the real command: refused with a reason, never a crash or a hang."""

import json
import os
import socket
import stat
from contextlib import chdir
from pathlib import Path

import pytest

from fillmark.publish import LOCK, REGISTER, SEEN
from fillmark.read import LARGEST
from fillmark.validate import MOST_FAULTS

pytestmark = pytest.mark.slow

CLEAN, FINDINGS, USAGE = 0, 1, 2

# --- what stands in a file

BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{b}: &{b} [{', '.join([f'*{a}'] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)
"""Nine levels of nine references: 9^9 texts, if anybody were to follow them (the billion laughs, as YAML)."""

REFUSED = {
    "bomb of aliases": (BOMB.encode(), "YML09"),
    "alias of itself": (b"a: &a {b: *a}\n", "YML09"),
    "merge bomb": (b"a: &a {b: 1}\nc: {<<: [*a, *a]}\n", "YML10"),
    "tag that would make an object": (b"a: !!python/object/apply:os.system [id]\n", "YML11"),
    "flow nested a thousand deep": (b"[" * 1000 + b"]" * 1000, "YML05"),
    "flow mappings nested a thousand deep": (b"{a: " * 1000 + b"}" * 1000, "YML05"),
    "blocks nested a thousand deep": (
        b"".join(b" " * n + b"a:\n" for n in range(1000)) + b" " * 1000 + b"b\n",
        "YML05",
    ),
    "dashes nested a thousand deep": (b"- " * 1000 + b"a\n", "YML05"),
    "questions nested a thousand deep": (b"? " * 1000 + b"a\n", "YML05"),
    "half a million brackets": (b"[" * 500_000, "YML05"),
    "nothing": (b"", "YML03"),
    "nulls": (bytes(4096), "YML02"),
    "a null inside": (b"id: A\x00B\n", "YML02"),
    "UTF-16 with mark, little": ("id: µ\n".encode("utf-16"), "YML01"),
    "UTF-16 without mark, big": ("id: abc\n".encode("utf-16-be"), "YML01"),
    "UTF-16 without mark, little": ("id: abc\n".encode("utf-16-le"), "YML01"),
    "UTF-32 with mark": ("id: µ\n".encode("utf-32"), "YML01"),
    "UTF-32 without mark": ("id: abc\n".encode("utf-32-be"), "YML02"),
    "latin-1": ("unit: µm\n".encode("latin-1"), "YML01"),
    "cut in the middle of a letter": ("unit: µ".encode()[:-1], "YML01"),
    "lone continuation byte": (b"a: \x80\n", "YML01"),
    "half of a surrogate pair": (b"a: \xed\xa0\x80\n", "YML01"),
    "a slash in two bytes": (b"a: \xc0\xaf\n", "YML01"),
    "a null in two bytes": (b"a: \xc0\x80\n", "YML01"),
    "beyond Unicode": (b"a: \xf4\x90\x80\x80\n", "YML01"),
    "byte order mark twice": (b"\xef\xbb\xbf\xef\xbb\xbfa: 1\n", "YML02"),
    "escape to the terminal": (b"a: \x1b[2J\n", "YML02"),
    "escape to the terminal, spelt": (b'a: "\\e]0;title\\a"\n', "YML02"),
    "delete": (b"a: \x7f\n", "YML02"),
    "C1 control": ("a: \x9b31m\n".encode(), "YML02"),
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(64), "YML01"),
    "archive": (b"PK\x03\x04" + bytes(64), "YML02"),
    "number longer than Python reads": (b"revision: " + b"9" * 5000 + b"\n", "YML12"),
    "hexadecimal number as long": (b"revision: 0x" + b"f" * 5000 + b"\n", "YML12"),
    "exponent without end": (b"revision: 1e" + b"9" * 5000 + b"\n", "YML12"),
    "infinity": (b"revision: .inf\n", "YML12"),
    "not a number": (b"revision: .nan\n", "YML12"),
    "ten thousand unknown keys": (b"".join(b"k%d: 1\n" % n for n in range(10_000)), "SCH01"),
    "ten thousand same keys": (b"a: 1\n" * 10_000, "YML07"),
    "one key of a megabyte": (b"k" * 1_000_000 + b": 1\n", "YML"),
    "a list instead of a method": (b"- 1\n" * 10_000, "SCH03"),
    "a text instead of a method": (b"x" * 1_000_000, "SCH03"),
}


def test_a_hostile_file_is_refused_with_its_reason(lab, run_many):
    for number, (content, _) in enumerate(REFUSED.values()):
        (lab / f"{number}.yaml").write_bytes(content)
    runs = run_many([["check", f"{number}.yaml"] for number in range(len(REFUSED))], cwd=lab)
    for (case, (_, code)), done in zip(REFUSED.items(), runs, strict=True):
        assert FINDINGS == done.code, case
        assert f" error {code}" in done.out, case
        assert len(done.out) < 200_000, case


COMMANDS = {
    "build": ["build", "--format", "html", "{}"],
    "choose": ["choose", "{}"],
    "compare": ["compare", "{}", "methods/TGF-VIS-003.yaml"],
    "explain": ["explain", "TRQ01", "{}"],
    "fix": ["check", "--fix", "{}"],
    "library": ["library", "{}"],
    "misuse": ["misuse", "{}"],
    "show": ["show", "{}"],
    "uncertainty": ["uncertainty", "{}"],
    **{form: ["check", "--format", form, "{}"] for form in ("json", "sarif", "github", "junit")},
}


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_refuses_every_hostile_file(lab, run_many, command):
    (lab / "bad").mkdir()
    files = {f"bad/{number}.yaml": content for number, (content, _) in enumerate(REFUSED.values())}
    for file, content in files.items():
        (lab / file).write_bytes(content)
    runs = run_many([[part.replace("{}", file) for part in COMMANDS[command]] for file in files], cwd=lab)
    # `explain` explains the code all the same, and `library` says which files it leaves out.
    right = {"explain": {CLEAN}, "library": {CLEAN}}.get(command, {FINDINGS, USAGE})
    assert set() == {done.code for done in runs} - right
    assert [] == [p for p in (lab / "out").rglob("*") if p.suffix in (".html", ".pdf")]
    assert files == {file: (lab / file).read_bytes() for file in files}


@pytest.mark.parametrize("most", [50_000_000, 2**34])
@pytest.mark.parametrize("name", ["methods/big.yaml", "shared/policy.yaml", f"out/{REGISTER}", f"out/{SEEN}"])
def test_a_file_of_any_size_is_never_loaded_whole(lab, run, name, most):
    """16 GiB would not fit in what the process may have; the file has holes and takes no room on the disk."""
    (lab / "out").mkdir()
    with (lab / name).open("wb") as file:
        file.truncate(most)
    limit = ("bash", "-c", 'ulimit -v 4000000; exec "$@"', "limited")
    done = run("build", "--format", "html", cwd=lab, before=limit)
    assert (
        CLEAN if name.startswith("out/") else FINDINGS if name.startswith("methods/") else USAGE
    ) == done.code
    if not name.startswith("out/"):
        assert "YML04" in done.out
        assert f"larger than {LARGEST} bytes" in done.out


# --- what cannot be seen

LOOKS_THE_SAME = {
    "zero width space": "\u200b",
    "zero width non-joiner": "\u200c",
    "zero width joiner": "\u200d",
    "left-to-right mark": "\u200e",
    "right-to-left mark": "\u200f",
    "arabic letter mark": "\u061c",
    "word joiner": "\u2060",
    "soft hyphen": "\u00ad",
    "combining grapheme joiner": "\u034f",
    "hangul filler": "\u3164",
    "hangul choseong filler": "\u115f",
    "halfwidth hangul filler": "\uffa0",
    "invisible times": "\u2062",
    "tag latin capital letter a": "\U000e0041",
    "variation selector-16": "\ufe0f",
    "mongolian vowel separator": "\u180e",
    "zero width no-break space": "\ufeff",
    "braille pattern blank": "\u2800",
    "interlinear annotation anchor": "\ufff9",
    "left-to-right embedding": "\u202a",
    "right-to-left embedding": "\u202b",
    "pop directional formatting": "\u202c",
    "left-to-right override": "\u202d",
    "right-to-left override": "\u202e",
    "left-to-right isolate": "\u2066",
    "right-to-left isolate": "\u2067",
    "first strong isolate": "\u2068",
    "pop directional isolate": "\u2069",
    "line separator": "\u2028",
    "musical symbol begin beam": "\U0001d173",
}


@pytest.mark.parametrize("spelt", [False, True], ids=["raw", "escaped"])
def test_a_reviewer_is_told_of_what_cannot_be_seen(lab, run_many, with_text, spelt):
    lines = []
    for number, sign in enumerate(LOOKS_THE_SAME.values()):
        written = f"\\U{ord(sign):08x}" if spelt else sign
        change = ("name: Hearthstone matt wall paint", f'name: "Hearthstone {written}matt"')
        lines.append(["check", with_text(change, name=f"{number}.yaml")])
    for (name, sign), done in zip(LOOKS_THE_SAME.items(), run_many(lines, cwd=lab), strict=True):
        assert FINDINGS == done.code, name
        assert f"U+{ord(sign):04X} ({name})" in " ".join(done.out.split())


@pytest.mark.parametrize("name", ["می‌خواهم", "क्‍ष", "👩‍🔬", "葛󠄀城", "Ångström", "Łukasz Đặng"])
def test_names_of_people_and_products_in_any_script_are_taken(lab, run, with_text, name):
    with_text(("name: Hearthstone matt wall paint", f"name: {name}"))
    done = run("build", "--format", "html", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert CLEAN == done.code
    assert name in (lab / "out/MCW-VIS-014/MCW-VIS-014-r3-checklist-A4.html").read_text(encoding="utf-8")


FROM_ELSEWHERE = [
    ("id: MCW-VIS-014\n", "id: MCW-VIS-О14\n", "SCH05"),  # a Cyrillic O
    ("lower: 8.0 Pa·s", "lower: 8.0 Pа·s", "QTY01"),  # a Cyrillic a
    ("lower: 8.0 Pa·s", "lower: ٨.0 Pa·s", "QTY01"),  # an Arabic eight
    ("spindle: R5", "spindle: Ｒ5", "NAM01"),  # a wide R
    ("guard: required", "guard: requіred", "SCH04"),  # a Ukrainian i
    ("run:\n  - {name: viscosity_2,", "run:\n  - {name: viscosity_２,", "SCH05"),  # a wide 2
]


def test_a_letter_of_another_alphabet_is_no_letter_of_ours(lab, run_many, with_text):
    lines = [
        ["check", with_text((right, wrong), name=f"{number}.yaml")]
        for number, (right, wrong, _) in enumerate(FROM_ELSEWHERE)
    ]
    for (_, wrong, code), done in zip(FROM_ELSEWHERE, run_many(lines, cwd=lab), strict=True):
        assert FINDINGS == done.code, wrong
        assert f" error {code}" in done.out, wrong


# --- ids and names that would lead elsewhere

LEADS_AWAY = [
    "../../x",
    "/etc/x",
    "..",
    ".",
    ".hidden",
    "a/b",
    "a\\b",
    "C:x",
    "A-1.",
    "CON",
    "con.x",
    "nul",
    "LPT1",
    "COM9.log",
    "A" * 41,
    '"MCW-VIS-014\\n"',
    '"MCW\\tVIS"',
    '"MCW VIS"',
    '"A\\0B"',
    '"~"',
    "$HOME",
    "`id`",
    "-rf",
    "%41",
    '"*"',
]


def test_an_id_that_could_lead_out_of_the_folder_is_refused(lab, run_many, with_text):
    lines = [
        [
            "build",
            "--format",
            "html",
            with_text(("id: MCW-VIS-014\n", f"id: {wrong}\n"), name=f"{number}.yaml"),
        ]
        for number, wrong in enumerate(LEADS_AWAY)
    ]
    before = set(lab.parent.rglob("*"))
    for wrong, done in zip(LEADS_AWAY, run_many(lines, cwd=lab), strict=True):
        assert FINDINGS == done.code, wrong
    made = set(lab.parent.rglob("*")) - before
    assert {lab / "out", *(lab / "out" / name for name in (REGISTER, LOCK, SEEN))} >= made


def test_an_id_that_differs_in_capitals_only_is_told(lab, run, with_text):
    """On a disk that knows no capitals, one folder of papers would take the place of the other."""
    (lab / "methods" / "TGF-VIS-003.yaml").unlink()
    with_text(name="methods/a.yaml")
    with_text(("id: MCW-VIS-014\n", "id: mcw-vis-014\n"))
    done = run("check", cwd=lab)
    assert FINDINGS == done.code
    assert 2 == done.out.count("error LIB01")
    assert "differs in capitals only" in " ".join(done.out.split())


STEPS = ["viscosity_20\\n", "../x", "a b", "{{x}}", "<b>", "V20", "", "a" * 41]


def test_a_step_has_a_plain_name(lab, run_many, with_text):
    lines = [
        ["check", with_text(("- {name: viscosity_2,", f'- {{name: "{name}",'), name=f"{number}.yaml")]
        for number, name in enumerate(STEPS)
    ]
    for name, done in zip(STEPS, run_many(lines, cwd=lab), strict=True):
        assert FINDINGS == done.code, name
        assert " error SCH05" in done.out, name


# --- numbers and amounts

NUMBERS = [
    "1e308",
    "1e-320",
    "1e400",
    "nan",
    "inf",
    "-inf",
    "-1",
    "0",
    "1" + "0" * 400,
    "1e" + "9" * 400,
    "0x1p3",
    "1_0",
    "1e5000",
]
MEASURED = {
    "8.0 Pa·s,": "Pa·s,",
    "500 mL ±": "mL ±",
    "23.0 °C ±": "°C ±",
    "20 rpm,": "rpm,",
    "60 s}": "s}",
    "1.42 g/mL": "g/mL",
    "20 mm}": "mm}",
    "2.0 %/K": "%/K",
    "5 min": "min",
    "10 mL\n": "mL\n",
    "0.5 °C\n": "°C\n",
    "resolution: 0.1 K": "K",
    "uncertainty: 0.1 K": "K",
    "1.5 %\n": "%\n",
    "0.5 Pa·s\n": "Pa·s\n",
    "210 min": "min",
    "80 µm": "µm",
    "0.10 mm²/s": "mm²/s",
    "1 mm,": "mm,",
}


@pytest.mark.parametrize("right", MEASURED)
def test_a_number_no_bench_has_is_told_and_computed_with_by_nobody(lab, run_many, with_text, right):
    key = right.partition(":")[0] + ": " if ":" in right else ""
    lines = [
        ["check", with_text((right, f"{key}{number} {MEASURED[right]}"), name=f"{at}.yaml")]
        for at, number in enumerate(NUMBERS)
    ]
    for number, done in zip(NUMBERS, run_many(lines, cwd=lab), strict=True):
        # A temperature may be nought or below, a difference or a sensitivity nought; both are told otherwise.
        may_be = number in ("-1", "0", "1e-320") and MEASURED[right].strip() in (
            "°C ±",
            "K",
            "°C",
            "%/K",
            "mL",
        )
        assert FINDINGS == done.code or may_be, number
        assert not {"nan", "inf"} & set(done.out.replace(number, "").lower().split()), number


@pytest.mark.parametrize("number", ["1" * 400, "1" * 5000, "1" * 3999, "0" * 3000 + "1.5"])
def test_a_number_in_prose_longer_than_python_reads_is_printed_as_it_stands(lab, run, with_text, number):
    with_text(("draw no air in.", number[:3900]))
    done = run("build", "--format", "html", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert done.code in (CLEAN, FINDINGS)


MANY_ENTRIES = {
    "specification": ("specification:\n", "  - {result: viscosity_20, lower: 8.0 Pa·s, upper: 12.0 Pa·s}\n"),
    "changes": ("changes:\n", "  - {revision: 2, class: editorial, reason: A word was changed.}\n"),
    "run": ("run:\n", "  - {name: other, speed: 20 rpm, read: {after: 60 s}}\n"),
    "report": ("report:\n", "  - {result: viscosity_20, statistic: mean, unit: Pa·s, increment: 0.1 Pa·s}\n"),
    "equipment": ("equipment: [", '"timer", '),
    "based_on": ("based_on: [", '"ISO 2555:2018", '),
    "hazards": ("hazards: [", "irritant, "),
}


@pytest.mark.parametrize("key", MANY_ENTRIES)
def test_ten_thousand_entries_are_too_many(lab, run, with_text, key):
    start, entry = MANY_ENTRIES[key]
    with_text((start, start + entry * 10_000))
    done = run("check", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert FINDINGS == done.code
    assert "has too many entries (limit" in " ".join(done.out.split())


def test_ten_thousand_notes_are_too_many(lab, run, with_text):
    with_text(("notes:\n", "notes:\n" + "".join(f"  n{n}: Read at 60 s.\n" for n in range(10_000))))
    done = run("check", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert FINDINGS == done.code
    assert "has too many entries (limit 50)" in " ".join(done.out.split())


def test_ten_thousand_faults_are_not_all_listed(lab, run, with_text):
    with_text(("run:\n", "run:\n" + "  - {nam: x, speed: 20 rp}\n" * 10_000))
    done = run("check", "--format", "json", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert FINDINGS == done.code
    assert 100 < len(json.loads(done.out)["diagnostics"]) <= 2 * MOST_FAULTS


TOKENS = [
    "a",
    "1.5 °C ± ",
    "{{",
    "{{x}} ",
    "1 - ",
    "- ",
    " ",
    "\t",
    "*_",
    "`",
    "[",
    "<",
    "take the guard ",
    "1 ",
    "=1",
    "with a b ",
]


@pytest.mark.parametrize(
    "right", ["draw no air in.", "Stop, tag the instrument, look back to the last pass."]
)
def test_a_text_without_end_is_too_long(lab, run_many, with_text, right):
    lines = []
    for at, token in enumerate(TOKENS):
        wrong = token * 100_000 if right.startswith("draw") else json.dumps(token * (400_000 // len(token)))
        lines.append(["check", with_text((right, wrong), name=f"{at}.yaml")])
    for token, done in zip(TOKENS, run_many(lines, cwd=lab), strict=True):
        assert FINDINGS == done.code, token
        assert " error " in done.out, token


# --- what is no ordinary file


def pipe(at: Path) -> None:
    os.mkfifo(at)


def endless(at: Path) -> None:
    at.symlink_to("/dev/zero")


def terminal(at: Path) -> None:
    at.symlink_to("/dev/ptmx")


def plug(at: Path) -> None:
    with chdir(at.parent), socket.socket(socket.AF_UNIX) as opened:
        opened.bind(at.name)  # the name of a socket is short


def circle(at: Path) -> None:
    at.symlink_to(at.name)


def nowhere(at: Path) -> None:
    at.symlink_to("gone")


def folder(at: Path) -> None:
    at.mkdir()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("kind", [pipe, endless, terminal, plug, circle, nowhere])
@pytest.mark.parametrize("command", ["check", "build", "library"])
def test_a_method_that_is_no_ordinary_file_does_not_hold_the_command(lab, run, kind, command):
    kind(lab / "methods" / "odd.yaml")
    done = run(command, *(["--format", "html"] if command == "build" else []), cwd=lab)
    assert USAGE == done.code
    if command == "library":
        assert "left out, because they cannot be read: methods/odd.yaml" in done.err
        return
    assert "methods/odd.yaml:1:1: error FIL01" in done.out


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("kind", [pipe, endless, plug, circle, nowhere, folder])
def test_site_data_that_cannot_be_read_is_never_passed_over(lab, run, kind):
    """The shipped thresholds would be applied in the place of the site's, and nobody told."""
    kind(lab / "shared" / "policy.yaml")
    done = run("check", cwd=lab)
    assert USAGE == done.code
    assert "shared/policy.yaml:1:1: error FIL01" in done.out
    assert "must be right before any method can be judged" in done.err


@pytest.mark.parametrize(
    "name", ["policy.yml", "Policy.yaml", "instrument.yaml", "policy.YAML", "phrases-de.yaml"]
)
def test_site_data_under_another_name_is_never_passed_over(lab, run, name):
    (lab / "shared" / name).write_text("version: x\n")
    done = run("check", cwd=lab)
    assert USAGE == done.code
    assert f"shared/{name}:1:1: error FIL02" in done.out


@pytest.mark.parametrize("name", ["policy.yml", "Springs.yaml"])
def test_a_folder_with_nothing_but_misnamed_site_data_is_a_workspace(lab, run, name):
    (lab / "shared" / "springs.yaml").unlink()
    (lab / "shared" / name).write_text("{}\n")
    assert USAGE == run("check", cwd=lab).code


def test_a_shared_folder_that_leads_nowhere_is_never_passed_over(lab, run):
    (lab / "shared" / "springs.yaml").unlink()
    (lab / "shared").rmdir()
    (lab / "shared").symlink_to("/volume/not/mounted")
    for command in ("check", "build", "doctor", "library"):
        done = run(command, cwd=lab)
        assert USAGE == done.code
        assert "shared cannot be looked into: No such file or directory" in done.err


def test_links_in_a_circle_are_walked_once(lab, run):
    (lab / "methods" / "again").symlink_to(".")
    (lab / "methods" / "up").symlink_to("..")
    done = run("check", cwd=lab)
    assert (CLEAN, "No findings in 2 files.") == (done.code, done.out.splitlines()[0])


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("kind", [pipe, endless, plug, circle, nowhere])
@pytest.mark.parametrize("name", [REGISTER, SEEN])
def test_a_register_of_papers_that_is_no_ordinary_file_counts_as_none(lab, run, kind, name):
    (lab / "out").mkdir()
    kind(lab / "out" / name)
    done = run("build", "--format", "html", cwd=lab)
    assert CLEAN == done.code
    assert stat.S_ISREG((lab / "out" / name).lstat().st_mode)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("kind", [pipe, endless, plug, nowhere, folder])
def test_a_lock_that_is_no_ordinary_file_is_told_and_not_waited_for(lab, run, kind):
    (lab / "out").mkdir()
    kind(lab / "out" / LOCK)
    done = run("build", "--format", "html", cwd=lab)
    assert USAGE == done.code
    assert "out cannot be written" in done.err
    assert not (lab / "out" / "gone").exists()


TAMPERED = [
    "[" * 100_000,
    '{"a":' * 100_000,
    "9" * 5000,
    '{"x": NaN}',
    '{"source": ["x"], "id": "b"}',
    '{"source": "a", "id": 3}',
    '{"source": "a", "id": "b", "files": 3}',
    '{"source": "a", "id": "b", "files": {"x": 3}}',
    '{"source": "\\u0000", "id": "b"}',
    '{"source": "a", "id": "../../x", "files": {"../../x": ""}}',
    '{"source": "../methods/MCW-VIS-014.yaml", "id": "..", "files": {"methods/MCW-VIS-014.yaml": ""}}',
    '{"source": "../methods/MCW-VIS-014.yaml", "id": "../methods", "files": {"MCW-VIS-014.yaml": ""}}',
    '{"source": "../methods/MCW-VIS-014.yaml", "id": "MCW-VIS-014", "files": {"../../methods/MCW-VIS-014.yaml": ""}}',
    '{"source": "/etc/passwd", "id": "/etc", "files": {"passwd": ""}}',
    '{"source": "a", "id": ""}',
    '{"source": "a", "id": "."}',
    '{"source": "\\ud800", "id": "\\ud800", "files": {"\\ud800": ""}}',
    "\ud800",
    "[1]",
    '"x"',
    "\0",
    '{"MCW-VIS-014/x": "y"}',
    '{"MCW-VIS-014/MCW-VIS-014-r3-checklist-A4.html": [1e308, null, "x"]}',
    "{}{}",
]


@pytest.mark.parametrize("name", [REGISTER, SEEN])
def test_a_register_that_was_tampered_with_leads_nowhere(lab, run_many, name):
    for at, content in enumerate(TAMPERED):
        (lab / f"out{at}").mkdir()
        (lab / f"out{at}" / name).write_bytes(content.encode("utf-8", "surrogatepass"))
    before = {p: p.read_bytes() for p in lab.rglob("*.yaml")}
    lines = [
        ["build", "--format", "html", "--document", "checklist", "--out", f"out{at}"]
        for at in range(len(TAMPERED))
        for _ in ("over what is there", "over what it has made itself")
    ]
    for line, done in zip(lines, run_many(lines, cwd=lab), strict=True):
        assert CLEAN == done.code, TAMPERED[int(line[-1][3:])]
        assert 2 == len(list((lab / line[-1]).rglob("*.html")))
    assert before == {p: p.read_bytes() for p in lab.rglob("*.yaml")}


# --- names of files

ODD_NAMES = {
    "line end": b"a\nNo findings in 1 file.\nb.yaml",
    "escape": b"\x1b[31mred\x1b]0;title\x07.yaml",
    "bell": b"\x07.yaml",
    "bytes that are no text": b"bad\xff\xfe.yaml",
    "right to left": "a\u202elmay.yaml".encode(),
    "C1": "\x9b2J.yaml".encode(),
    "carriage return": b"a\rb.yaml",
    "tab": b"a\tb.yaml",
    "zero width": "a\u200bb.yaml".encode(),
}
NAMED_COMMANDS = {
    **{name: line for name, line in COMMANDS.items() if name != "compare"},
    "text": ["check", "{}"],
    "compare": ["compare", "{}", "methods/TGF-VIS-003.yaml"],
}


@pytest.mark.parametrize("command", NAMED_COMMANDS)
def test_a_name_that_would_steer_the_terminal_is_refused_and_shown_harmless(
    lab, run_many, method_text, command
):
    lines = []
    for at, name in enumerate(ODD_NAMES.values()):
        named = os.fsdecode(f"{at}/".encode() + name)
        (lab / str(at)).mkdir()
        (lab / named).write_text(method_text, encoding="utf-8")
        lines.append([part.replace("{}", named) for part in NAMED_COMMANDS[command]])
    for name, done in zip(ODD_NAMES, run_many(lines, cwd=lab), strict=True):
        assert USAGE == done.code, name
        # A name of two lines cannot put a line of its own into the report.
        assert command == "library" or "No findings in 1 file." not in done.said.splitlines(), name
    assert not list((lab / "out").rglob("*.html"))


@pytest.mark.parametrize(
    "name",
    [
        "-n.yaml",
        "--help.yaml",
        "CON.yaml",
        "a..yaml",
        "x" * 250 + ".yaml",
        "a b.yaml",
        "<script>.yaml",
        "::error::x.yaml",
        "%0A.yaml",
        "$(id).yaml",
        "'.yaml",
        '".yaml',
        "ä.yaml",
        "中.yaml",
        "&.yaml",
        "*.yaml",
        "[x].yaml",
        "{x}.yaml",
        "#.yaml",
        ";.yaml",
    ],
)
def test_a_name_that_is_odd_and_harmless_is_taken(lab, run, with_text, name):
    for file in (lab / "methods").iterdir():
        file.unlink()
    with_text(
        ("lower: 8.0 Pa·s", "lower: 8.0 Pas"), ("status: released", "status: draft"), name=f"methods/{name}"
    )
    for form in ("text", "json", "sarif", "github", "junit"):
        done = run("check", "--format", form, cwd=lab)
        assert FINDINGS == done.code
        assert "QTY01" in done.out
    # A name cannot give a command of its own to the service that reads this form.
    commands = [
        line for line in run("check", "--format", "github", cwd=lab).out.splitlines() if "::" in line[:2]
    ]
    assert all(line.startswith("::error file=methods/") for line in commands)
    done = run("check", "--", name, cwd=lab / "methods")
    offered = done.out.splitlines()[-1]
    assert offered.startswith("1 of these can be mended: fillmark check --fix --preview ")
    assert " -" not in offered.partition("--preview ")[2][:1]
    with_text(name=f"methods/{name}")
    assert CLEAN == run("build", "--format", "html", cwd=lab).code


def test_words_on_the_command_line_do_not_steer_the_terminal(lab, run_many):
    word = "\x1b[31m\x07\u202e"
    lines = (
        ["explain", word],
        [word],
        ["check", word],
        ["check", "--format", word],
        ["show", f"--{word}"],
        ["compare", word, word],
        ["choose", "--lower", word],
        ["misuse", "methods/MCW-VIS-014.yaml", "--step", word],
        ["new", "method", word],
    )
    for line, done in zip(lines, run_many(lines, cwd=lab), strict=True):
        assert USAGE == done.code, line
