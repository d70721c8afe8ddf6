"""A page for every rule, made of what the rule says of itself and of the finding that its example brings."""

import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from fillmark.explain import input_codes
from fillmark.rule_pages import page, prose, write_pages
from fillmark.rules import Example, Finding, all_rules

ROOT = Path(__file__).parents[1]
EVIL = "<script>alert('1')</script> & \"<img src=x onerror=y>\""
TAGS = {
    "html", "head", "meta", "title", "style", "body", "nav", "a", "h1", "h2", "p", "b", "span",
    "div", "mark", "ul", "li", "dl", "dt", "dd", "code", "section", "footer",
}  # fmt: skip


class Parsed(HTMLParser):
    """The tags, links, places and visible text of a page; every tag is closed where it should be."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        self.tags, self.links, self.places, self.words, self.open = set(), [], set(), [], []
        self.attributes = set()
        self.feed(file.read_text(encoding="utf-8"))
        self.close()
        assert [] == self.open, file

    def handle_starttag(self, tag, attrs):
        """Note the tag, its attributes, where it leads and what it is called."""
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.links += [value for name, value in attrs if name == "href"]
        self.places |= {value for name, value in attrs if name == "id"}
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Close the tag that was opened last."""
        assert tag == self.open.pop()

    def handle_data(self, data):
        """Keep what a reader sees."""
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self):
        """Give all that a reader sees, in one line."""
        return re.sub(r"\s+", " ", "".join(self.words))


def demo(method):
    return (ROOT / "methods" / f"{method}.yaml").read_bytes()


@pytest.fixture(scope="module")
def pages(reference):
    return {r.code: page(r, demo(r.example.method), reference) for r in all_rules()}


@pytest.fixture(scope="module")
def folder(pages, tmp_path_factory):
    out = tmp_path_factory.mktemp("out") / "rules"
    written = write_pages(list(pages.values()), out)
    assert out / "index.html" == written[0]
    assert sorted(out.iterdir()) == sorted(written)
    return out


@pytest.fixture(scope="module")
def parsed(folder):
    return {file.name: Parsed(file) for file in folder.iterdir()}


def test_every_rule_has_a_page_and_there_is_no_other(parsed):
    assert {"index.html", *(f"{r.code}.html" for r in all_rules())} == set(parsed)


def test_every_link_leads_to_a_page_and_a_place_in_it(parsed):
    for name, one in parsed.items():
        assert one.links, name
        for link in one.links:
            file, _, place = link.partition("#")
            target = parsed[file or name]
            assert not place or place in target.places, f"{name}: {link}"


def test_the_index_leads_to_every_rule_and_names_every_other_code(parsed):
    index = parsed["index.html"]
    assert {f"{r.code}.html" for r in all_rules()} == {link for link in index.links if "#" not in link}
    assert {r.topic for r in all_rules()} | {"input"} | set(input_codes()) == index.places
    assert f"{len(all_rules())} rules," in index.text
    for code, (slug, _) in input_codes().items():
        assert f"{code} {slug}" in index.text


@pytest.mark.parametrize("rule", all_rules(), ids=lambda r: r.code)
def test_a_page_says_all_that_the_rule_says_and_what_it_finds(rule, pages, parsed, compiled, reference):
    text = parsed[f"{rule.code}.html"].text
    for word in re.findall(r"[^\s`]+", rule.text):
        assert word in text, word
    for key in rule.sources:
        assert reference.sources[key].title in text
    found = compiled(rule.example.method, (rule.example.right, rule.example.wrong)).diagnostics
    finding = next(d for d in found if d.code == rule.code)
    assert finding == pages[rule.code].finding
    for said in (finding.message, *finding.ways_out, *(r.note for r in finding.related)):
        assert " ".join(said.split()) in text
    for code in rule.example.also:
        assert f" {code} " in text.partition("The same fault brings")[2]


@pytest.mark.parametrize("rule", all_rules(), ids=lambda r: r.code)
def test_right_and_wrong_are_lines_of_the_method_and_the_finding_is_marked(rule, pages):
    one = pages[rule.code]
    right = demo(rule.example.method).decode()
    wrong = right.replace(rule.example.right, rule.example.wrong)
    for shown, text in ((one.right, right), (one.wrong, wrong), (one.place, wrong)):
        lines = text.splitlines()
        for line in shown:
            assert lines[line.number - 1] == line.before + line.marked + line.after
    changed = [
        [line.before + line.marked + line.after for line in s if line.changed] for s in (one.right, one.wrong)
    ]
    assert changed[0] != changed[1]
    marked = [line for line in (*one.wrong, *one.place) if line.marked]
    assert [one.finding.span.line] == [line.number for line in marked]
    assert one.finding.span.column == len(marked[0].before) + 1


def test_pages_stand_alone_and_hold_no_markup_but_ours(parsed):
    for name, one in parsed.items():
        assert set() == one.tags - TAGS, name
        assert set() == one.attributes - {
            "lang",
            "charset",
            "name",
            "content",
            "class",
            "id",
            "href",
            "rel",
        }, name
        assert not any(":" in link or link.startswith("/") for link in one.links), name


def test_pages_are_black_on_white_and_fetch_nothing(folder):
    for file in folder.iterdir():
        (style,) = re.findall(r"<style>(.*?)</style>", file.read_text(encoding="utf-8"), re.DOTALL)
        rules = re.sub(r"/\*.*?\*/", "", style, flags=re.DOTALL)
        assert {"#000", "#fff"} == set(re.findall(r"#[0-9a-fA-F]{3,8}\b", rules))
        assert "url(" not in rules
        assert "@import" not in rules


def test_the_thresholds_are_those_a_rule_judges_by_and_not_those_of_the_ways_out(pages, reference):
    shown = {code: {t.key: t.text for t in one.thresholds} for code, one in pages.items()}
    assert {"torque_ceiling": "100 %", "headroom": "20 %"} == shown["TRQ01"]
    assert {"free_board": "5 mm"} == shown["CON05"]
    assert {"angle_digital", "angle_dial", "angle_ratio"} == set(shown["INS07"])
    assert {} == shown["IDN01"]
    for one in pages.values():
        for threshold in one.thresholds:
            assert reference.policy.texts[threshold.key] == threshold.text
            assert reference.sources[reference.policy.sources[threshold.key]] == threshold.source


# --- what an author could write


def test_no_text_of_a_method_or_a_rule_becomes_markup(reference, tmp_path):
    rule = next(r for r in all_rules() if r.code == "IDN01")

    def judge(m, f):
        if "script" in m.people.author:
            yield Finding(("author",), f"{m.people.author} wrote it.", (EVIL, "Or `<b>` not."))

    example = Example("MCW-VIS-014", "author: A. Osei", "author: '<script>alert(1)</script> & A. Osei'")
    text = f"{EVIL}\n\n`<b>code</b>` and {EVIL}\n\n{EVIL}"
    hostile = replace(rule, slug="<i>slug</i>", text=text, example=example, judge=judge)
    import fillmark.check

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fillmark.check, "all_rules", lambda: (hostile,))
        one = page(hostile, demo("MCW-VIS-014"), reference)
    write_pages([one], tmp_path)
    for name in ("index.html", "IDN01.html"):
        parsed = Parsed(tmp_path / name)
        assert set() == parsed.tags - TAGS
        assert set() == parsed.attributes & {"src", "onerror"}
        assert EVIL in parsed.text
    assert "<script>alert(1)</script> & A. Osei wrote it." in parsed.text
    assert "author: '<script>alert(1)</script> & A. Osei'" in parsed.text


def test_backticks_become_code_and_nothing_else_is_markup():
    assert "a <code>b &lt; c</code> *d* &amp; e" == prose("a `b < c` *d* & e")


# --- what stops the making


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"text": "What is wrong.\n\nWhy it matters."}, "says 2 of 3 parts"),
        ({"text": ""}, "says 0 of 3 parts"),
        ({"text": "What.\n\nWhy.\n\n "}, "says 2 of 3 parts"),
        ({"sources": ("no-such-source",)}, "no-such-source: not in the bibliography"),
        ({"sources": ()}, "cites nothing"),
        ({"example": Example("MCW-VIS-014", "not in it", "x")}, "must stand once"),
        ({"example": Example("MCW-VIS-014", "", "")}, "must stand once"),
        ({"example": Example("MCW-VIS-014", "speed: 20 rpm", "speed: 20.0 rpm")}, "must bring the finding"),
    ],
)
def test_a_rule_that_says_too_little_stops_the_making(reference, change, said):
    rule = replace(all_rules()[0], **change)
    with pytest.raises(ValueError, match=said):
        page(rule, demo(rule.example.method), reference)


def test_a_finding_in_the_right_text_too_is_no_example(reference):
    rule = next(r for r in all_rules() if r.code == "TRQ01")
    spoilt = demo("LMT-VIS-021").replace(b"speed: 5 rpm", b"speed: 9 rpm")
    with pytest.raises(ValueError, match="the wrong text alone must bring the finding"):
        page(rule, spoilt, reference)


# --- the command


def test_the_command_writes_all_pages_and_takes_away_those_of_rules_that_are_no_more(tmp_path):
    (tmp_path / "ZZZ99.html").write_text("old", encoding="utf-8")
    (tmp_path / "notes.html").write_text("ours", encoding="utf-8")
    command = [sys.executable, "-m", "fillmark.rule_pages", str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, encoding="utf-8", check=False)
    assert (0, "") == (done.returncode, done.stderr)
    assert f"{len(all_rules())} pages of rules; begin with {tmp_path / 'index.html'}\n" == done.stdout
    assert not (tmp_path / "ZZZ99.html").exists()
    assert (tmp_path / "notes.html").exists()
    assert len(all_rules()) + 2 == len(list(tmp_path.iterdir()))
