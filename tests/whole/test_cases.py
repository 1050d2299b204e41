"""Every case keeps every promise; and the comparison can fail."""

import pytest
from msgspec.structs import replace

import promises
from cases import Case, all_cases
from roundwright.pipeline import correct
from roundwright.settings import Settings

ALL = all_cases()
#: what at least one case must show being left alone (a code of the contract).
REASONS = {
    *("no-calibration", "out-of-range", "over-limit", "side-unknown", "tool-unknown", "skipped", "taper"),
    *("thread", "cut-away", "not-clean", "unsupported-mode", "position-unknown", "would-vanish"),
    *("would-collide", "would-cut-air", "tool-shape", "tool-doubtful", "looks-corrected"),
}


@pytest.fixture(scope="module", params=ALL, ids=lambda case: case.name)
def case(request):
    return request.param


@pytest.mark.parametrize("promise", promises.PROMISES, ids=lambda promise: promise.__name__)
def test_promise(case, promise):
    promise(case)


def test_a_third_of_the_cases_are_decoys():
    decoys = [case for case in ALL if case.decoy]
    assert len(decoys) * 3 >= len(ALL) >= 24


def test_decoys_show_the_reasons():
    shown = {f["reason"] for case in ALL if case.decoy for f in case.expected_listing["features"]}
    assert shown - {None} >= REASONS


def test_without_a_table_circles_are_listed_and_stay():
    case = next(case for case in ALL if case.name == "counterbore")
    outcome = correct(case.data, "program.nc", None, Settings(diameters={"1": 6.0}))
    assert [c.reason for c in outcome.plan.corrections] == ["no-table", "no-table"]
    assert [c.feature.diameter for c in outcome.plan.corrections] == [18.0, 11.0]
    assert outcome.output == case.data


@pytest.fixture
def halves():
    return next(case for case in ALL if case.name == "halves")


class Tampered(Case):
    """A case whose run gave other bytes."""

    def with_output(self, output):
        self.__dict__["outcome"] = replace(self.outcome, output=output)
        return self


def tampered(case, old, new):
    output = case.outcome.output
    assert output.count(old) >= 1
    return Tampered(case.folder).with_output(output.replace(old, new, 1))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"52.550", b"52.551"),
        (b"\n", b"\r\n"),
        (b"M30\n", b"M30"),
        (b"F400.", b"F401."),
        (b"circles", b"circle"),
    ],
)
def test_comparison_of_bytes_can_fail(halves, old, new):
    with pytest.raises(AssertionError):
        promises.exact_bytes(tampered(halves, old, new))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"F400.", b"F401.0"),  # a feed
        (b"Z-3.000", b"Z-3.0"),  # written otherwise only
        (b"G1 Z", b"G1  Z"),  # spacing
        (b"S16000", b"S16001"),  # a word that is none of a correction's
        (b"M30", b"M30 M5"),  # a word added
        (b"M30\n", b""),  # a line lost
        (b"X52.550", b""),  # a word lost
        (b"Z5.000", b"Z6.000"),  # a line that nothing planned touches
    ],
)
def test_comparison_of_skeletons_can_fail(halves, old, new):
    with pytest.raises(AssertionError):
        promises.only_numbers_change(tampered(halves, old, new))


def test_comparison_of_diameters_can_fail(halves):
    wrong = tampered(halves, b"I-2.550", b"I-2.540")
    wrong.outcome  # noqa: B018
    with pytest.raises(AssertionError):
        promises.again_lists_new_diameters(wrong)


def test_a_stamp_that_is_missing_is_seen(halves):
    unstamped = Tampered(halves.folder).with_output(
        promises.without_stamp(halves.outcome.output, halves.outcome)
    )
    with pytest.raises(AssertionError):
        promises.second_run_refused(unstamped)
