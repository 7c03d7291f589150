"""The first run: what is timed, and levels as printed and as JSON, in both sets of units."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from autoplan.outcome import Commissioning, Outcome, OutletFacts
from autoplan.problem.brief import PrintUnits
from autoplan.problem.site import BedDrain, BedTimer, BedWater, Vessel, VesselKind
from autoplan.report.contract import json_text
from autoplan.report.render.plain import plain_text
from autoplan.report.sections.first_run import first_run
from autoplan.report.units import SI, US, Units


def printed(outcome: Outcome, units: Units = SI, *outlets: OutletFacts) -> str:
    """The section in plain text, with the outlets given instead of its own."""
    return plain_text(first_run(outcome, with_outlets(outcome, *outlets).designs[0], units))


def with_outlets(outcome: Outcome, *outlets: OutletFacts) -> Outcome:
    """The outcome with those outlets, if any, in its first design."""
    first = outcome.designs[0]
    facts = first.verdict.commissioning
    assert facts is not None
    changed = replace(facts, outlets=outlets or facts.outlets)
    design = replace(first, verdict=replace(first.verdict, commissioning=changed))
    return replace(outcome, designs=(design, *outcome.designs[1:]))


def outlet(flow: float, design: float = 0.0005, wide: float = 0.0008, low: float = 1.0) -> OutletFacts:
    """The tank's feed with those flows [m3/s], and its share of what is set with every bed full [-]."""
    return OutletFacts("tank feed", "fish tank", design, flow, wide, "tank feed", 0.75, low * flow)


def with_mouth(outcome: Outcome, mouth: float | None) -> Outcome:
    """The outcome with the mouth of the tank's feed there [m]; the tank's water stands at 1.2712 m."""
    first = outcome.designs[0]
    feed = first.drawing.runs["tank feed"]
    assert feed.rim is not None
    ending = feed.with_ends(feed.start, replace(feed.rim, mouth_m=mouth))
    runs = {**first.drawing.runs, "tank feed": ending}
    return replace(outcome, designs=(replace(first, drawing=replace(first.drawing, runs=runs)),))


def test_a_bucket_of_ten_litres(outcome: Outcome) -> None:
    """1800 L/h fill 10 L in 20 s; wide open 2880 L/h in 12.5 s."""
    text = printed(with_mouth(outcome, 1.6))
    assert re.search(r"fish tank +tank feed +1800 +10 L bucket +20 s +2880 +12 s", text)
    assert "leaves room for a bucket under its mouth" in text
    assert "asked" not in text


def test_a_bucket_of_five_gallons(outcome: Outcome) -> None:
    """In US units 475.5 gph fill 5 gal (18.93 L) in 38 s, and 760.8 gph in 24 s."""
    text = printed(with_mouth(outcome, 1.6), US)
    assert re.search(r"fish tank +tank feed +475\.5 +5 gal bucket +38 s +760\.8 +24 s", text)
    assert " L " not in text


@pytest.mark.parametrize(("mouth", "timed"), [(1.5713, "10 L bucket"), (1.5711, "rise of 20 mm")])
def test_a_bucket_needs_room(outcome: Outcome, mouth: float, timed: str) -> None:
    """A bucket is 300 mm tall and hangs over the water at 1271.2 mm."""
    assert re.search(rf"fish tank +tank feed +1800 +{timed} ", printed(with_mouth(outcome, mouth)))


@pytest.mark.parametrize(
    ("flow", "mouth", "timed"),
    [
        (0.0002, 1.4, "1 L jug +5 s"),
        (0.00021, 1.4, "rise of 20 mm +114 s"),
        (0.0002, 1.2713, "1 L jug +5 s"),
        (0.0002, 1.2711, "rise of 20 mm +120 s"),
    ],
)
def test_a_jug_takes_a_small_stream_over_water(
    outcome: Outcome, flow: float, mouth: float, timed: str
) -> None:
    """720 L/h fill a litre in 5 s; more is timed by its rise: 24 L on 1.2 m2 are 20 mm."""
    text = printed(with_mouth(outcome, mouth), SI, outlet(flow))
    assert re.search(rf"fish tank +tank feed +[0-9]+ +{timed} ", text)


@pytest.mark.parametrize(("rim_over_mouth", "timed"), [(-0.3001, "10 L bucket"), (-0.2999, "1 L jug")])
def test_over_a_bed_a_bucket_stands_on_the_gravel(
    outcome: Outcome, rim_over_mouth: float, timed: str
) -> None:
    """Gravel may reach up to the rim of a bed, so that a bucket needs its room over that."""
    water = BedWater(0.18, 0.4, 1 / 3600, 1.0)
    tank = outcome.site.vessels["fish tank"]
    site = replace(outcome.site, vessels={**outcome.site.vessels, "fish tank": replace(tank, bed=water)})
    changed = with_mouth(replace(outcome, site=site), tank.rim_m - rim_over_mouth)
    assert timed in printed(changed, SI, outlet(0.0001))


def test_an_outlet_under_water_is_timed_by_its_rise(outcome: Outcome) -> None:
    """A mouth 1.2 mm under the water at 1271.2: 1800 L/h lift 1.2 m2 by 20 mm in 48 s, by 1 in in 61 s."""
    said = " ".join(printed(outcome).split())
    assert "the mouth of tank feed is under water: stop every drain of it for a moment and time" in said
    assert re.search(r"fish tank +tank feed +1800 +rise of 20 mm +48 s +2880 +30 s", printed(outcome))
    assert re.search(r"fish tank +tank feed +475\.5 +rise of 1 in +61 s +760\.8 +38 s", printed(outcome, US))


@pytest.mark.parametrize(("mouth", "under"), [(1.271, True), (1.2713, False), (None, False)])
def test_only_an_outlet_under_water(outcome: Outcome, mouth: float | None, under: bool) -> None:
    """Over the water it does not end under it; without a mouth the hole's centre, here at 1.42, counts."""
    assert ("is under water" in printed(with_mouth(outcome, mouth))) is under


def test_levels_above_the_datum_and_the_floor(outcome: Outcome) -> None:
    """The tank stands 771.2 mm over its floor at 500 mm; the sump falls to 450 mm over its own."""
    text = printed(outcome)
    assert re.search(r"fish tank +1271\.2 \(771\.2\) +-\n", text)
    assert re.search(r"sump +100\.0 \(500\.0\) +50\.0 \(450\.0\)", text)


@pytest.mark.parametrize(("share", "told"), [(0.99, True), (0.996, False), (1.0, False)])
def test_an_outlet_that_stays_short_is_told(outcome: Outcome, share: float, told: bool) -> None:
    """Under 0.995 of its flow an outlet is said to be short, above it is not."""
    text = printed(outcome, SI, outlet(0.0005 * share))
    assert ("of the 1800 L/h asked" in text) is told


def test_less_with_every_bed_full_is_told(outcome: Outcome) -> None:
    """Of 1800 L/h set with the beds empty 91 % are 1638; under half of one per cent nothing is said."""
    text = " ".join(printed(outcome, SI, outlet(0.0005, low=0.91)).split())
    assert "set with the beds empty let less through: fish tank 1638 L/h (91 %)." in text
    assert "let less through" not in printed(outcome, SI, outlet(0.0005, low=0.997))


def test_beside_timed_beds_valves_are_not_set_with_the_beds_full(outcome: Outcome) -> None:
    """Set there they would be too wide open once the timed ones shut; without timers it is the advice."""
    short = outlet(0.0005, low=0.91)
    full = "Set them with the beds full to have the full flow even then."
    assert full in " ".join(printed(outcome, SI, short).split())
    water = BedWater(0.18, 0.4, 1 / 3600, 1.0, BedDrain.TIMER, timer=BedTimer(1200.0, 0.008, 0.04, 1e-4))
    bed = Vessel("bed", VesselKind.BED, 0.5, 0.3, 1.0, 0.006, 0.006, False, 0.68, 0.68, bed=water)
    site = replace(outcome.site, vessels={**outcome.site.vessels, "bed": bed})
    text = " ".join(printed(replace(outcome, site=site), SI, short).split())
    assert full not in text
    assert "do not set them with the beds full: wider open, the valves of outlets without a timer" in text


def test_a_dry_outlet_never_fills_a_bucket(outcome: Outcome) -> None:
    """Without flow there is no time, in print or in JSON."""
    text = printed(outcome, SI, outlet(0.0, wide=0.0))
    assert re.search(r"fish tank +tank feed +0 +rise of 20 mm +never +0 +never", text)
    data = json.loads(json_text(with_outlets(outcome, outlet(0.0, wide=0.0))))
    (facts,) = data["designs"][0]["commissioning"]["outlets"]
    assert facts["bucket_s"] is facts["open_bucket_s"] is None
    assert facts["flow_l_h"] == 0.0


def test_json_is_in_litres_and_millimetres(outcome: Outcome) -> None:
    """10 L in 20 s at 1800 L/h whatever the units of print; 0.75 m in the valve are 750 mm."""
    us = replace(outcome, site=replace(outcome.site, print_units=PrintUnits.US))
    facts = json.loads(json_text(us))["designs"][0]["commissioning"]
    assert facts["bucket_l"] == 10.0
    assert facts["outlets"] == [
        {
            "run": "tank feed",
            "vessel": "fish tank",
            "design_flow_l_h": pytest.approx(1800.0),
            "flow_l_h": pytest.approx(1800.0),
            "bucket_s": pytest.approx(20.0),
            "open_flow_l_h": pytest.approx(2880.0),
            "open_bucket_s": pytest.approx(12.5),
            "valve_run": "tank feed",
            "valve_loss_mm": pytest.approx(750.0),
            "low_flow_l_h": pytest.approx(1800.0),
            # 20 mm on 1.2 m2.
            "measure": {
                "by": "rise",
                "area_m2": pytest.approx(1.2),
                "volume_l": pytest.approx(24.0),
                "seconds": pytest.approx(48.0),
                "open_seconds": pytest.approx(30.0),
            },
        }
    ]
    assert facts["levels"] == [
        {"vessel": "fish tank", "water_mm": 1271.2, "low_mm": None},
        {"vessel": "sump", "water_mm": 100.0, "low_mm": 50.0},
    ]


def test_without_facts_nothing_is_said(outcome: Outcome) -> None:
    """A design that was not commissioned on paper has no such section, and null in JSON."""
    first = outcome.designs[0]
    design = replace(first, verdict=replace(first.verdict, commissioning=None))
    assert not list(first_run(outcome, design, SI))
    data = json.loads(json_text(replace(outcome, designs=(design,))))
    assert data["designs"][0]["commissioning"] is None
    assert isinstance(first.verdict.commissioning, Commissioning)
