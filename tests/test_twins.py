"""Plausible changes to the demonstration methods that spoil them, with exactly what must be found."""

import pytest

from fillmark.diagnostics import Severity

CREAM, SAUCE, PAINT, STARCH, GEL = "LMT-VIS-021", "TGF-VIS-003", "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"


@pytest.fixture(scope="session")
def found(compiled):
    """Give all that is found and not waived: code, severity, line, message."""

    def all_of(method, *changes):
        return [
            (d.code, d.severity, d.span.line, d.message)
            for d in compiled(method, *changes).diagnostics
            if d.waived_by is None
        ]

    return all_of


def line_of(edited, method, changes, at):
    lines = [n for n, line in enumerate(edited(method, *changes).decode().splitlines(), 1) if at in line]
    assert 1 == len(lines)
    return lines[0]


def test_two_clocks_on_a_paint_that_breaks_down(found, edited):
    # 60 s at 2 rpm are two turns. The spring (48 %, 70°) has wound up in ln(200)·2.8 s = 14.8 s, so the
    # fault is not the spring's: it is the contradiction, and the paint that is still breaking down. Both
    # must be said.
    changes = (("read: {after: 150 s}", "read: {after: 60 s, revolutions: 5 rev}"),)
    ((code, severity, line, message),) = found(PAINT, *changes)
    assert ("TIM02", Severity.ERROR) == (code, severity)
    assert line_of(edited, PAINT, changes, "name: viscosity_2,") == line
    assert "60 s at 2 rpm is 2 revolutions, while 5 rev is 150 s" in message
    assert "The spring itself has wound up by 60 s" in message
    assert "still breaking down at 60 s, so the earlier reading is high" in message


def test_twice_as_fast_to_be_quicker(found, edited):
    # 40 Pa·s·rpm at 100 rpm is 400 mPa·s full scale; the upper limit of 500 mPa·s takes 125 %. Nothing is
    # gained: the reading still comes at 30 s.
    changes = (("speed: 50 rpm", "speed: 100 rpm"),)
    ((code, severity, line, message),) = found(STARCH, *changes)
    assert ("TRQ01", Severity.ERROR) == (code, severity)
    assert line_of(edited, STARCH, changes, "speed: 100 rpm") == line
    assert "takes 125.0 % of the spring" in message
    assert "Good batches above 400 mPa·s cannot be read" in message


def test_twice_as_fast_with_a_check_that_does_not_reach_the_thin_end(found):
    # Re = 1050 · 10.47 · 0.023465² / 0.3 = 20.2; a check at 400 mPa·s shows nothing of the flow at 300 mPa·s.
    all_found = found(STARCH, ("speed: 50 rpm", "speed: 100 rpm"), ("fluid: REF-300", "fluid: REF-400"))
    own = [(code, severity) for code, severity, _, _ in all_found if code.startswith("TRQ")]
    assert [("TRQ01", Severity.ERROR), ("TRQ09", Severity.WARNING)] == own
    assert any("Reynolds number is 20.2" in message for *_, message in all_found)


def test_an_agreement_no_instrument_can_hold(found, edited):
    # 100 mPa·s is 0.2 % of 50 Pa·s: two steps of the readout. At 2 % of 25 Pa·s a range of 0.2 standard
    # deviations is exceeded by 99 of 100 good sets of three.
    changes = (("agree_within: 1.8 Pa·s", "agree_within: 100 mPa·s"),)
    ((code, severity, line, message),) = found(GEL, *changes)
    assert ("REP05", Severity.WARNING) == (code, severity)
    assert line_of(edited, GEL, changes, "agree_within") == line
    assert "0.20 % of full scale" in message
    assert "About 99 % of good sets of 3" in message


# Half a turn a minute, read at 30 s, on a product that takes half the scale: an index of 27.5 to 33.3333 on 8
# to 12 Pa·s and 800 Pa·s full scale.
@pytest.mark.parametrize(
    ("readout", "here", "there"),
    [
        ("digital", "7.6 % low on this digital readout (70°)", "a dial (320°) would read 57 % low"),
        ("dial", "57 % low on this dial (320°)", "a digital readout (70°) would read 7.6 % low"),
    ],
)
def test_half_a_turn_a_minute_read_at_half_a_minute(readout, here, there, found):
    all_found = found(
        PAINT,
        ("speed: 2 rpm, read: {after: 150 s}", "speed: 0.5 rpm, read: {after: 30 s}"),
        ("lower: 5.5, upper: 8.0", "lower: 27.5, upper: 33.3333"),
        ("readout: digital", f"readout: {readout}"),
    )
    timing = [(code, severity, message) for code, severity, _, message in all_found if code.startswith("TIM")]
    early = [message for code, severity, message in timing if (code, severity) == ("TIM03", Severity.ERROR)]
    assert 1 == len(early)
    assert here in early[0]
    assert there in early[0]
    assert "TIM04" not in [code for code, *_ in timing]
