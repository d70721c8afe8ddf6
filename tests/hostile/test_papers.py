"""Every text of a method and of the reference data, spoilt with what a browser or a printer would act on.

The papers are made with the real command and taken apart: nothing but letters may have come of it.
"""

import csv
import json
import re
import socket
import threading
from contextlib import suppress
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path

import pypdf
import pytest
import yaml

from fillmark.printing import PrintingFailed, pdf

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
KINDS = ("checklist", "data-sheet", "dossier", "training", "competency")

EVIL = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'><svg onload=alert(1)>",
    "</style><style>*{display:none}</style>",
    "</title></head><body onload=x>",
    "]]><!--",
    "-->&amp;&#60;b&#62;&lt;i&gt;&NewLine;",
    "[a](javascript:alert(1)) ![b](http://127.0.0.1/b.png) <http://127.0.0.1/>",
    "[c]: http://127.0.0.1/c",
    "{% include '/etc/passwd' %}{# x #}",
    "url(http://127.0.0.1/u) @import 'http://127.0.0.1/i';",
    "}@page{background:url(file:///etc/hostname)}",
    "<a href=file:///etc/hostname>x</a><iframe src=http://127.0.0.1/></iframe>",
    "<link rel=attachment href=file:///etc/hostname><base href=http://127.0.0.1/>",
    "<form action=http://127.0.0.1/><input type=image src=http://127.0.0.1/>",
    "<meta http-equiv=refresh content='0;url=http://127.0.0.1/'>",
    "<object data=data:text/html,x></object><embed src=data:text/html,x>",
    "${jndi:ldap://127.0.0.1/a} %s %n %(x)s {x} {0.__class__}",
    "javascript:alert(1)",
]
"""What would run, fetch, hide or be filled in, if it were taken for anything but letters."""

NEVER = {
    "script",
    "iframe",
    "object",
    "embed",
    "img",
    "image",
    "a",
    "link",
    "base",
    "form",
    "foreignobject",
    "use",
    "video",
    "audio",
    "picture",
    "source",
    "animate",
    "set",
    "frame",
    "frameset",
    "applet",
    "math",
    "template",
}
FETCHES = {
    "href",
    "src",
    "srcset",
    "action",
    "formaction",
    "data",
    "xlink:href",
    "background",
    "poster",
    "style",
}


class Page(HTMLParser):
    """What a page is made of, as a browser would take it apart."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.in_style = False
        self.styles: list[str] = []
        self.comments: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):  # noqa: D102 - the parser calls it
        self.tags.append((tag, dict(attrs)))
        self.in_style = tag == "style"
        if self.in_style:
            self.styles.append("")

    def handle_endtag(self, tag):  # noqa: ARG002, D102 - idem
        self.in_style = False

    def handle_data(self, data):  # noqa: D102 - idem
        if self.in_style:
            self.styles[-1] += data
        else:
            self.text += data

    def handle_comment(self, data):  # noqa: D102 - idem
        self.comments.append(data)


def structure(html: str) -> dict[str, int]:
    """Count the tags of a page."""
    counts: dict[str, int] = {}
    for tag, _ in Page(html).tags:
        counts[tag] = counts.get(tag, 0) + 1
    return counts


def leads_within(tag: str, attributes: dict[str, str | None]) -> bool:
    return tag == "a" and re.fullmatch(r"#[a-z]+|[a-z]+\.csv", attributes.get("href") or "") is not None


def assert_inert(html: str, name: str) -> None:
    page = Page(html)
    # The index leads to its own tables.
    page.tags = [tag for tag in page.tags if not leads_within(*tag)]
    assert set() == {tag for tag, _ in page.tags} & NEVER, name
    attributes = {(a, v) for _, attrs in page.tags for a, v in attrs.items()}
    assert [] == [a for a, _ in attributes if a.startswith("on")], name
    assert [] == [(a, v) for a, v in attributes if a in FETCHES - {"style"}], name
    # Our own inline styles set widths and counts; none brings an address.
    assert [] == [
        v for a, v in attributes if a == "style" and ("url" in v.lower() or "import" in v.lower())
    ], name
    assert [] == [v for a, v in attributes if a == "http-equiv"], name
    assert [] == page.comments, name
    assert [] == [s for s in page.styles if "127.0.0.1" in s or "display:none}</" in s or "url(" in s], name


def texts_of(schema: dict, path: tuple = ()) -> list[tuple]:
    """List the paths of all free texts of the method language: `*` for any index or key."""
    if "$ref" in schema:
        return []
    found = []
    kind = schema.get("type")
    if kind == "string" and not {
        "enum",
        "pattern",
        "x-quantity",
        "x-toleranced",
        "x-reference",
        "x-date",
    } & set(schema):
        found.append(path)
    for key, inner in schema.get("properties", {}).items():
        found += texts_of(inner, (*path, key))
    for branch in schema.get("anyOf", ()):
        found += texts_of(branch, path)
    for inner in (schema.get("items"), schema.get("additionalProperties")):
        if isinstance(inner, dict):
            found += texts_of(inner, (*path, "*"))
    return found


LANGUAGE = json.loads((ROOT / "schemas" / "method.schema.json").read_text(encoding="utf-8"))
TEXTS = texts_of(LANGUAGE)


def full_method() -> dict:
    """Give a method of the demonstration in which every free text of the language has a place."""
    data = yaml.load((ROOT / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8"), yaml.BaseLoader)
    data["fillmark"], data["demonstration"] = 1, True
    data["complies_with"] = ["ISO 2555:2018"]
    data["evidence"] = {"replicates.repeatability": "x"}
    data["coefficient"] = {
        "full_scale": "287.4 Pa·s·rpm",
        "guard": "required",
        "container": "beaker-600-low-form",
        "evidence": "x",
    }
    data["spindle"] = {"name": "R5", "marking": "x"}
    data["guard_continuity"] = "x"
    data["container"] = {
        "label": "x",
        "kind": "beaker",
        "inside_diameter": "82.55 mm",
        "height": "125 mm",
    }
    data["waivers"] = [
        {
            "rule": "TEM05",
            "reason": "x" * 40,
            "evidence": "x",
            "risk": "x",
            "requested_by": "x",
            "approved_by": "x",
            "expires": "2027-01-01",
            "rests_on": {"coefficient": "287.4 Pa·s·rpm"},
        }
    ]
    return data


def put(data, path: tuple, evil: str) -> bool:
    """Put a text at every place a path names; tells whether there was one."""
    *way, last = path
    at = [data]
    for part in way:
        at = [
            inner
            for one in at
            for inner in (
                (one if isinstance(one, list) else list(one.values()) if isinstance(one, dict) else [])
                if part == "*"
                else [one[part]]
                if isinstance(one, dict) and part in one
                else []
            )
        ]
    done = False
    for one in at:
        if last == "*":
            for key in range(len(one)) if isinstance(one, list) else list(one):
                one[key], done = evil, True
        elif isinstance(one, dict):
            one[last], done = evil, True
    return done


NAMES_A_STEP = {
    ("specification", "*", "result"),
    ("verification", "at"),
    ("report", "*", "result"),
    ("report", "*", "ratio", "*"),
    ("waivers", "*", "rests_on", "*"),
}
"""Texts that name something else of the method; another word there is an error, and nothing is built."""


def spoilt(evil: str) -> bytes:
    data = full_method()
    for path in TEXTS:
        if path in NAMES_A_STEP:
            continue
        # Names of people must differ, a reason has thirty letters, and a name 200 at most.
        tail = f" {len(path)} {path[-1] if path[-1] != '*' else path[0]}, and thirty letters more"
        put(data, path, evil[:120] if path == ("title",) else evil[: 200 - len(tail)] + tail)
    data["notes"][f"{evil[:40]} k"] = evil
    return yaml.safe_dump(data, allow_unicode=True, sort_keys=False, width=10_000).encode()


def plain(data: bytes) -> bytes:
    """Numbers stay numbers: the loader of texts has made texts of them."""
    text = data.decode()
    for key in ("revision", "count", "level"):
        text = re.sub(rf"\b{key}: '(\d+)'", rf"{key}: \1", text)
    text = re.sub(r": '(true|false)'", r": \1", text)
    text = re.sub(r"(lower|upper|increment): '([\d.]+)'", r"\1: \2", text)
    return text.encode()


def test_the_walk_finds_the_texts_of_the_language():
    assert {("title",), ("product", "name"), ("notes", "*"), ("equipment", "*"), ("people", "author")} <= set(
        TEXTS
    )
    data = full_method()
    assert [] == [path for path in TEXTS if path not in NAMES_A_STEP and not put(data, path, "x")]


@pytest.fixture(scope="module")
def evil_lab(tmp_path_factory, run_many):
    """Make the papers of a method for each wicked text; gives the folder and the papers by number."""
    lab = tmp_path_factory.mktemp("evil")
    lines = []
    for number, evil in enumerate(["harmless", *EVIL]):
        (lab / f"{number}.yaml").write_bytes(plain(spoilt(evil)))
        kinds = [word for kind in KINDS for word in ("--document", kind)]
        lines.append(["build", "--format", "html", "--out", f"out{number}", *kinds, f"{number}.yaml"])
        lines.append(["library", "--out", f"index{number}", f"{number}.yaml"])
    runs = run_many(lines, cwd=lab)
    builds = [(line, one) for line, one in zip(lines, runs, strict=True) if line[0] == "build"]
    said = [f"{line}: {done.said}" for line, done in builds if done.code]
    assert [] == said
    return lab


def pages(lab: Path, number: int) -> dict[str, str]:
    return {
        p.name: p.read_text(encoding="utf-8")
        for p in [*sorted((lab / f"out{number}").rglob("*.html")), *(lab / f"index{number}").glob("*.html")]
    }


@pytest.mark.parametrize("number", range(1, len(EVIL) + 1))
def test_no_text_of_a_method_becomes_more_than_letters(evil_lab, number):
    made, harmless = pages(evil_lab, number), pages(evil_lab, 0)
    assert len(KINDS) + 1 == len(made)
    for name, html in made.items():
        assert_inert(html, name)
        # Our own style sheets, and no more of them.
        assert structure(harmless[name]).get("style") == structure(html).get("style"), name
    # It is not thrown away either: the letters are there for who reads.
    assert EVIL[number - 1][:20].split("*")[0] in Page(made["MCW-VIS-014-r3-checklist-A4.html"]).text


# --- reference data


def longer(text, end: str):
    """Put an end to a phrase, however it is written: a text, a list of texts, a block with one or the other."""
    if isinstance(text, str):
        return text + end
    if isinstance(text, list):
        return [longer(one, end) for one in text]
    return {**text, "text": longer(text["text"], end)}


def spoil_shared(evil: str, folder: Path) -> None:
    """Write the shipped reference data again, with a wicked end to every free text of it."""
    folder.mkdir()
    for file in sorted((ROOT / "shared").glob("*.yaml")):
        data = yaml.safe_load(file.read_text(encoding="utf-8"))
        if file.stem == "phrases":
            # The places to fill in stay; braces of the wicked text would be others that nobody fills.
            end = " " + evil.replace("{", "(").replace("}", ")")
            data = {key: longer(text, end) for key, text in data.items()}
        for entry in data.values():
            if isinstance(entry, dict):
                for key in {"label", "title", "why"} & set(entry):
                    entry[key] = f"{entry[key]} {evil}"
        if file.stem == "policy":
            data["version"] = f"{data['version']} {evil}"
            data["room"] = {"value": "21 °C", "source": "project-decision", "why": evil}
        text = yaml.safe_dump(data, allow_unicode=True, sort_keys=False, width=10_000)
        (folder / file.name).write_text(text, encoding="utf-8")


@pytest.mark.parametrize("number", range(len(EVIL)))
def test_no_text_of_the_reference_data_becomes_more_than_letters(lab, run, number):
    for file in (lab / "shared").iterdir():
        file.unlink()
    (lab / "shared").rmdir()
    spoil_shared(EVIL[number], lab / "shared")
    kinds = [word for kind in KINDS for word in ("--document", kind)]
    done = run("build", "--format", "html", *kinds, cwd=lab)
    made = list((lab / "out").rglob("*.html"))
    assert 2 * len(KINDS) == len(made), done.said
    run("library", "--out", "index", cwd=lab)
    for page in [*made, *(lab / "index").glob("*.html")]:
        assert_inert(page.read_text(encoding="utf-8"), page.name)


# --- on paper


def trapped() -> tuple[socket.socket, list[bytes], int]:
    """Open a door on this machine and note whoever knocks."""
    door = socket.create_server(("127.0.0.1", 0))
    door.settimeout(0.2)
    knocks: list[bytes] = []

    def watch() -> None:
        while True:
            try:
                visitor, _ = door.accept()
            except TimeoutError:
                continue
            except OSError:
                return
            knocks.append(visitor.recv(200))
            visitor.close()

    threading.Thread(target=watch, daemon=True).start()
    return door, knocks, door.getsockname()[1]


FETCHING = [
    "<img src='{}' alt=''>",
    "<link rel=stylesheet href='{}'>",
    "<style>@import '{}';</style>",
    "<style>p{{background:url({})}}</style><p>x</p>",
    "<style>@font-face{{font-family:f;src:url({})}}p{{font-family:f}}</style><p>x</p>",
    "<link rel=attachment href='{}'>",
    "<a rel=attachment href='{}'>x</a>",
    "<object data='{}'></object>",
    "<embed src='{}'>",
    "<svg><image href='{}' width='9' height='9'/></svg>",
    "<svg><use href='{}#x'/></svg>",
    "<style>li{{list-style-image:url({})}}</style><ul><li>x</ul>",
    "<style>p::before{{content:url({})}}</style><p>x</p>",
    "<style>@page{{background:url({})}}</style>",
    "<style>@namespace a url({});</style>",
]


@pytest.mark.pdf
@pytest.mark.parametrize("html", FETCHING)
def test_the_printer_opens_no_door_and_no_file(html, tmp_path):
    door, knocks, port = trapped()
    planted = tmp_path / "planted.txt"
    planted.write_text("SECRET-OF-THIS-MACHINE p{color:red}")
    before = planted.stat().st_atime_ns
    addresses = [
        f"http://127.0.0.1:{port}/x.png",
        f"file://{planted}",
        str(planted),
        f"//127.0.0.1:{port}/x",
        "ftp://127.0.0.1/x",
    ]
    try:
        for address in addresses:
            printed = b""
            with suppress(PrintingFailed):
                printed = pdf(f"<html lang=en><title>t</title><body>{html.format(address)}<p>text</p>")
            assert b"SECRET" not in printed
            assert b"/EmbeddedFile" not in printed
    finally:
        door.close()
    assert [] == knocks
    assert before == planted.stat().st_atime_ns


@pytest.mark.pdf
def test_the_trap_itself_works():
    door, knocks, port = trapped()
    with socket.create_connection(("127.0.0.1", port)) as visitor:
        visitor.sendall(b"knock")
        visitor.recv(1)
    door.close()
    assert [b"knock"] == knocks


ACTIONS = {
    "/A",
    "/AA",
    "/OpenAction",
    "/JS",
    "/JavaScript",
    "/URI",
    "/Launch",
    "/EmbeddedFiles",
    "/AF",
    "/RichMedia",
    "/XFA",
    "/AcroForm",
}


def actions(obj, seen: set[int]) -> set[str]:
    """Gather whatever in a PDF a viewer would act on."""
    obj = obj.get_object() if hasattr(obj, "get_object") else obj
    if id(obj) in seen:
        return set()
    seen.add(id(obj))
    found: set[str] = set()
    if isinstance(obj, dict):
        found |= ACTIONS & set(obj)
        for value in obj.values():
            found |= actions(value, seen)
    elif isinstance(obj, list):
        for value in obj:
            found |= actions(value, seen)
    return found


@pytest.mark.pdf
def test_a_pdf_holds_no_link_no_script_and_no_file(lab, run):
    (lab / "methods" / "MCW-VIS-014.yaml").write_bytes(plain(spoilt(" ".join(EVIL)[:190])))
    (lab / "methods" / "TGF-VIS-003.yaml").unlink()
    done = run("build", "--format", "pdf", "--document", "checklist", "--document", "dossier", cwd=lab)
    made = list((lab / "out").rglob("*.pdf"))
    assert 2 == len(made), done.said
    for file in made:
        reader = pypdf.PdfReader(file)
        root = dict(reader.trailer["/Root"])
        assert set() == actions(root, set()) - {"/A"}, file.name
        subtypes = [a.get_object()["/Subtype"] for page in reader.pages for a in page.get("/Annots", [])]
        assert "/Link" not in subtypes
        assert "<script>" in "".join(page.extract_text() for page in reader.pages)


# --- in a spreadsheet

FORMULAS = [
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "=cmd|' /C calc'!A0",
    '=HYPERLINK("http://127.0.0.1","x")',
    "=1\t",
    "-2+3+cmd|x",
]


@pytest.mark.parametrize("formula", FORMULAS)
def test_no_cell_of_a_table_is_a_formula(lab, run, formula):
    (lab / "methods" / "MCW-VIS-014.yaml").write_bytes(plain(spoilt(formula)))
    run("library", "--out", "index", cwd=lab)
    tables = list((lab / "index").glob("*.csv"))
    assert 2 <= len(tables)
    for table in tables:
        cells = [c for row in csv.reader(StringIO(table.read_text(encoding="utf-8-sig"))) for c in row]
        starting = [c for c in cells if c[:1] in ("=", "@", "\t", "\r", "+", "-")]
        assert [] == [c for c in starting if not re.fullmatch(r"[+-][0-9.]+", c)]
    assert any(formula[:4] in table.read_text(encoding="utf-8-sig") for table in tables)
