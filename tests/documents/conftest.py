"""Plans of the demonstration methods, and ways to look into a plan."""

import pytest

from fillmark.build import review
from fillmark.digest import digest
from fillmark.documents import Hold, Section, Step, plain
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.data_sheet import plan_data_sheet
from fillmark.documents.dossier import plan_dossier

DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")


@pytest.fixture(params=DEMOS)
def demo(request):
    """One demonstration method after the other."""
    return request.param


@pytest.fixture(scope="session")
def checklist(compiled):
    """Plan the checklist of a demonstration method with edits."""

    def plan(method, *changes, **more):
        one = compiled(method, *changes)
        return plan_checklist(one.method, one.figures, digest(one.method), **more)

    return plan


@pytest.fixture(scope="session")
def data_sheet(compiled):
    """Plan the data sheet of a demonstration method with edits."""

    def plan(method, *changes, **more):
        one = compiled(method, *changes)
        return plan_data_sheet(one.method, one.figures, digest(one.method), **more)

    return plan


@pytest.fixture(scope="session")
def dossier(compiled):
    """Plan the dossier of a demonstration method with edits."""

    def plan(method, *changes, **more):
        one = compiled(method, *changes)
        return plan_dossier(one.method, one.figures, digest(one.method), review(one, one.method), **more)

    return plan


class Look:
    """What a reader looks for in a plan."""

    @staticmethod
    def sections(document) -> list[Section]:
        """List all sections, side by side."""
        return [section for side in document.sides for section in side.sections]

    @classmethod
    def blocks(cls, document, kind: str) -> list:
        """List all blocks of a kind."""
        return [block for section in cls.sections(document) for block in section.blocks if block.kind == kind]

    @classmethod
    def steps(cls, document) -> list[Step]:
        """List all steps in order."""
        return [step for block in cls.blocks(document, "steps") for step in block.steps]

    @classmethod
    def holds(cls, document) -> list[Hold]:
        """List the hold points."""
        return cls.blocks(document, "hold")

    @classmethod
    def section(cls, document, title: str) -> Section:
        """Find the section of this title."""
        (found,) = (s for s in cls.sections(document) if s.title == title)
        return found

    @classmethod
    def step(cls, document, words: str, at: int = 0) -> Step:
        """Find the step whose text holds these words; `at` counts those that do."""
        return [s for s in cls.steps(document) if words in cls.words(s.text)][at]

    @staticmethod
    def words(text) -> str:
        """Give a text with plain spaces, and without what keeps it on one line."""
        return (
            plain(text)
            .replace("\u00a0", " ")
            .replace("\u202f", " ")
            .replace("\u2060", "")
            .replace("\u200b", "")
        )

    @classmethod
    def everything(cls, value) -> str:
        """Give all text of a plan or a part of it, with plain spaces."""
        if isinstance(value, str):
            return (
                value.replace("\u00a0", " ")
                .replace("\u202f", " ")
                .replace("\u2060", "")
                .replace("\u200b", "")
            )
        if isinstance(value, tuple):
            if value and all(hasattr(v, "strong") for v in value):
                return cls.words(value)
            return "\n".join(cls.everything(v) for v in value)
        if hasattr(value, "__dataclass_fields__"):
            return "\n".join(cls.everything(getattr(value, name)) for name in value.__dataclass_fields__)
        return ""


@pytest.fixture(scope="session")
def look() -> type[Look]:
    """Give the ways to look into a plan."""
    return Look


@pytest.fixture(scope="session")
def clear():
    """Say which labels of a picture touch each other or its edge."""
    from fillmark.documents.shapes import box_of

    def touching(picture) -> list[tuple[str, str]]:
        boxes = [(label.text, box_of(label)) for label in picture.labels]
        found = [
            (text, "edge")
            for text, (left, top, right, bottom) in boxes
            if left < -0.01 or top < -0.01 or right > picture.width + 0.01 or bottom > picture.height + 0.01
        ]
        for i, (one, a) in enumerate(boxes):
            for other, b in boxes[i + 1 :]:
                apart = (
                    a[2] <= b[0] + 0.01 or b[2] <= a[0] + 0.01 or a[3] <= b[1] + 0.01 or b[3] <= a[1] + 0.01
                )
                if not apart:
                    found.append((one, other))
        return found

    return touching


@pytest.fixture(scope="session")
def drawn():
    """Draw a picture as SVG and read it back; gives the text and the tree."""
    from xml.etree import ElementTree as ET

    from fillmark.render import _environment

    def draw(picture):
        text = str(_environment().get_template("pictures.html").module.svg(picture)).strip()
        return text, ET.fromstring(text)  # noqa: S314 - our own output

    return draw
