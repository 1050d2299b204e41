"""Records: what they hold follows the schema, comes back as it was, and is read with care."""

from __future__ import annotations

import copy
import json
from hashlib import sha256

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

import outcomes
from coupons import QUARTER, SIX, both, corrected, table_for, written
from roundwright import pipeline
from roundwright.coupon import coupon_record, job_record, read_record, record_json
from roundwright.errors import RoundwrightError
from roundwright.settings import Settings
from roundwright.shared import shared_text

SCHEMA = json.loads(shared_text("schemas", "roundwright.record-1.json"))


def coupon(recipe):
    layout, program = written(recipe)
    return program, coupon_record(layout, program, "folder/coupon.nc", table_for(recipe))


def job(program=outcomes.PROGRAM, **options):
    settings = Settings(material="birch ply", diameters={"1": 6.0}, **options)
    return pipeline.correct(program.encode(), "folder/panel.nc", table_for(SIX), settings)


PLAIN = record_json(coupon(SIX)[1])


@pytest.mark.parametrize("recipe", [both(SIX), both(QUARTER)], ids=["mm", "inch"])
def test_a_coupon_s_record_follows_the_schema_and_comes_back(recipe):
    program, record = coupon(recipe)
    text = record_json(record)
    jsonschema.validate(json.loads(text), SCHEMA)
    assert read_record(text, "coupon.json") == record
    assert (record.program, record.corrected) == ("coupon.nc", None)
    assert record.original == sha256(program).hexdigest()
    assert [(c.side, c.cut) for c in record.features[:1]] == [("hole", "climb")]
    for circle in record.features:
        assert circle.original == circle.programmed == pytest.approx(circle.target, abs=1e-3)
        assert (circle.tool, circle.material) == (1, "birch ply")


def test_a_record_knows_how_its_walls_are_cut_and_an_older_one_need_not():
    record = coupon(both(QUARTER))[1]
    recipe = both(QUARTER)
    assert {(c.feed, c.speed) for c in record.features} == {(round(recipe.feed, 6), recipe.speed)}
    assert {(c.feed, c.speed) for c in job_record(job()).features} == {(900.0, 16000.0)}
    older = json.loads(PLAIN)
    for circle in older["features"]:
        del circle["feed"], circle["speed"]
    jsonschema.validate(older, SCHEMA)
    assert {(c.feed, c.speed) for c in read_record(json.dumps(older), "a.json").features} == {(None, None)}


def test_a_coupon_and_its_corrected_run_name_the_same_circles():
    layout, outcome = corrected(both(SIX))
    cut, made = job_record(outcome), coupon(both(SIX))[1]
    assert [(c.id, c.side, c.cut, c.tool) for c in cut.features] == [
        (c.id, c.side, c.cut, c.tool) for c in made.features
    ]
    assert cut.original == made.original
    assert cut.corrected == sha256(outcome.output).hexdigest() != cut.original
    assert len(layout.spots) == len(cut.features)


def test_a_job_s_record_has_every_measurable_circle_and_no_other():
    outcome = job(skip=("C2",))
    record = job_record(outcome)
    jsonschema.validate(json.loads(record_json(record)), SCHEMA)
    assert read_record(record_json(record), "panel.json") == record
    kept = {c.feature.id: c for c in outcome.plan.corrections if not c.feature.fault}
    assert "side-unknown" in {c.reason for c in outcome.plan.corrections}, "a circle that nobody can measure"
    assert [circle.id for circle in record.features] == list(kept)
    for circle in record.features:
        correction = kept[circle.id]
        assert circle.original == pytest.approx(correction.feature.diameter, abs=1e-6)
        if circle.id == "C2":
            assert circle.programmed == circle.original, "skipped, so nothing was changed"
        else:
            assert circle.programmed == pytest.approx(correction.corrected, abs=1e-6)
            assert circle.programmed != circle.original


def test_a_target_is_recorded_as_what_was_aimed_at():
    record = job_record(job(targets={"C1": "20.05"}))
    first = record.features[0]
    assert (first.target, first.original) == (20.05, 20.0)
    assert first.programmed == pytest.approx(20.05 + 0.12, abs=0.02)


def test_a_job_without_a_table_is_recorded_without_one():
    settings = Settings(measured=((20.0, 19.9),), measured_inch=False, diameters={"1": 6.0})
    outcome = pipeline.correct(outcomes.PROGRAM.encode(), "standard input", None, settings)
    record = job_record(outcome)
    assert record.table is None and record.features[0].material is None
    text = record_json(record)
    jsonschema.validate(json.loads(text), SCHEMA)
    assert read_record(text, "job.json") == record


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda r: r.update(schema="roundwright.record/9"), "no record that can be read here"),
        (lambda r: r.pop("features"), "lacks 'features'"),
        (lambda r: r.update(features={}), "'features' is no list"),
        (lambda r: r["program"].update(sha256="x"), "SHA-256 is spoiled"),
        (lambda r: r["program"].update(units="m"), "units is none of mm, in"),
        (lambda r: r["features"][0].update(programmed=-1), "-1 is no length"),
        (lambda r: r["features"][0].update(programmed="20"), "'20' is no number"),
        (lambda r: r["features"][0].update(programmed=float("nan")), "nan is no number"),
        (lambda r: r["features"][0].update(side="slot"), "side is none of"),
        (lambda r: r["features"][0].update(tool=True), "True is no tool"),
        (lambda r: r["features"][0].update(centre=[1]), "centre"),
        (lambda r: r["features"][0].update(colour="red"), "'colour' is not known"),
        (lambda r: r["features"].append(r["features"][0]), "C1 stands twice"),
    ],
)
def test_a_spoiled_record_is_refused_by_name(spoil, words):
    record = copy.deepcopy(json.loads(PLAIN))
    spoil(record)
    with pytest.raises(RoundwrightError, match=words) as caught:
        read_record(json.dumps(record), "coupon.json")
    assert str(caught.value).startswith("coupon.json: ")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@given(value=JSON, data=st.data())
def test_whatever_stands_in_a_record_it_is_read_or_refused(value, data):
    record = json.loads(PLAIN)
    here = record
    while True:
        key = data.draw(st.sampled_from(list(here) if isinstance(here, dict) else range(len(here))))
        if not isinstance(here[key], dict | list) or not here[key] or data.draw(st.booleans()):
            break
        here = here[key]
    here[key] = value
    try:
        read_record(json.dumps(record), "coupon.json")
    except RoundwrightError as error:
        assert error.place is not None


@given(st.text(max_size=40))
def test_whatever_is_no_record_is_refused(text):
    with pytest.raises(RoundwrightError):
        read_record(text, "coupon.json")
