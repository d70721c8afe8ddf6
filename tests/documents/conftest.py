"""Plans of the demonstration methods, and ways to look into a plan."""

import pytest

from fillmark.digest import digest
from fillmark.documents import Hold, Section, Step, plain
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.data_sheet import plan_data_sheet

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
        """Give a text with plain spaces."""
        return plain(text).replace("\u00a0", " ").replace("\u202f", " ")

    @classmethod
    def everything(cls, value) -> str:
        """Give all text of a plan or a part of it, with plain spaces."""
        if isinstance(value, str):
            return value.replace("\u00a0", " ").replace("\u202f", " ")
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
