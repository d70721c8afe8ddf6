"""Names that may be one person's, and names that are two people's."""

import pytest

from fillmark.names import alike, known_as


def test_a_name_is_known_by_its_letters():
    assert known_as("A. Osei") == known_as("a osei")
    assert known_as("Jörg Lind") != known_as("Jorg Lind")
    assert known_as("李小龙") != known_as("李大龙")
    assert "—" == known_as(" — ")


@pytest.mark.parametrize(
    "other",
    [
        "a osei",
        "A. OSEI.",
        "A.Osei",
        "Osei, A.",
        "osei a",
        "A. Öséi",
        "\u0410. Osei",  # Cyrillic A, as Unicode names it
        "\u0391. Osei",  # Greek Alpha
        "A. Os\u0435i",  # Cyrillic ie
        "\u041esei, \u0410",
        "\uff21. \uff2f\uff53\uff45\uff49",  # full width
        "A. 0sei",  # a zero
    ],
)
def test_a_name_written_otherwise_is_the_same_persons(other):
    assert alike("A. Osei", other)
    assert alike(other, "A. Osei")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("A. Osei", "B. Osei"),
        ("A. Osei", "A. Oseia"),
        ("A. Osei 2", "A. Osei 3"),
        ("A. Osei", ""),
        ("A. Osei", "—"),
        ("李小龙", "李大龙"),
        ("Иван Петров", "Пётр Иванов"),
    ],
)
def test_two_peoples_names_stay_two(one, other):
    assert not alike(one, other)
    assert not alike(other, one)


def test_names_of_several_words_and_initials_are_turned_round():
    assert alike("J. P. Smith", "Smith, JP")
    assert alike("Maria de Souza", "de Souza, Maria")
    assert alike("Łukasz Nowak", "Lukasz Nowak")
