"""The verdict: every rule's check on a finished drawing, and the numbers a builder asks for.

A search wants a yes or no of many drawings (`judge`); whoever builds one wants everything (`complete`).
"""

from __future__ import annotations

from dataclasses import replace

from autoplan.catalog.parts import Catalog
from autoplan.drawing import Drawing
from autoplan.hydraulics.pump import energy_kwh_per_year, watts_at_speed
from autoplan.line.water import timed_watts
from autoplan.outcome import Cost, PumpFacts, RunFacts, Verdict
from autoplan.problem.site import RunKind, Site
from autoplan.rules.base import Given
from autoplan.rules.book import RuleBook
from autoplan.rules.order.purchase_list import PurchaseList
from autoplan.rules.pressure.pump_duty import duty_head, required_head
from autoplan.rules.survey import Survey
from autoplan.verdict.faults.walk import faults
from autoplan.verdict.hours.filling import filling
from autoplan.verdict.hours.siphons import siphon_facts
from autoplan.verdict.hours.through_time import running
from autoplan.verdict.hours.timers import timer_facts
from autoplan.verdict.hours.traces import floods, power_cut
from autoplan.verdict.hours.waterworks import Waterworks, bed_siphons
from autoplan.verdict.hours.weeps import weep_facts
from autoplan.verdict.steady.commissioning import commission
from autoplan.verdict.steady.curves import pump_curves
from autoplan.verdict.steady.network import steady
from autoplan.verdict.steady.supplies import Supplies
from autoplan.verdict.tolerance import hole_rooms


def judge(site: Site, catalog: Catalog, book: RuleBook, drawing: Drawing) -> Verdict:
    """Accept or refuse a drawing as if a stranger had made it; all that a search needs to know of it.

    Args:
        site, catalog, book: the problem, the price list, the rules in force.
        drawing: the design; nothing else of the optimiser's is looked at.

    Returns:
        Findings of every rule and the cost counted from the order; the rest is for `complete`.
    """
    survey = Survey(site, catalog, drawing)
    findings = tuple(finding for rule in book.rules for finding in rule.check(survey))
    return Verdict(findings=findings, cost=order_cost(survey))


def complete(site: Site, catalog: Catalog, book: RuleBook, drawing: Drawing, verdict: Verdict) -> Verdict:
    """The verdict on a drawing with everything that is told of it, none of which refuses it.

    Args:
        site, catalog, book, drawing: as for `judge`.
        verdict: what `judge` said of the drawing.

    Returns:
        Also run and pump figures, what no rule can judge and what to measure at the first run; for a drawing
        that breaks no hard rule how it runs through hours, and what comes of each fault.

    Raises:
        NetworkError: as `steady`.
    """
    told = run_through(site, catalog, book, drawing, verdict)
    return told if not told.ok else replace(told, hole_rooms=hole_rooms(site, catalog, book, drawing))


def run_through(site: Site, catalog: Catalog, book: RuleBook, drawing: Drawing, verdict: Verdict) -> Verdict:
    """As `complete`, but for how far each hole may be off."""
    survey = Survey(site, catalog, drawing)
    siphons, balanced = bed_siphons(survey, book), steady(survey, balanced=True)
    unjudged = {rule.id: tuple(rule.unjudged(survey)) for rule in book.rules}
    told = replace(
        verdict,
        runs={name: _run_facts(survey, name) for name in site.runs},
        pumps={
            vessel: _pump_facts(survey, vessel, book.given(Given.GROWN)) for vessel in site.pumped_vessels()
        },
        lines={name: survey.assembled(name) for name in site.runs},
        joints=survey.joints,
        siphons=siphon_facts(survey, siphons),
        timers=timer_facts(survey),
        weeps=weep_facts(survey),
        filling=filling(survey),
        commissioning=commission(survey, balanced),
        saw_cut_m=book.settings.get(PurchaseList.id, {}).get("kerf", 0.0),
        unjudged={rule: sentences for rule, sentences in unjudged.items() if sentences},
    )
    if not told.ok:
        return told
    works = Waterworks(survey, siphons)
    supplies = Supplies(works, balanced.valves)
    cut, resting = power_cut(works, supplies)
    return replace(
        told,
        running=running(works, supplies.with_shut),
        faults=faults(works, supplies),
        curves=pump_curves(survey, balanced.valves),
        traces=(*floods(works, supplies), *cut),
        resting=resting,
    )


def _run_facts(survey: Survey, name: str) -> RunFacts:
    flow = survey.design_flow(name)
    line = survey.line(name)
    factor = survey.overload_factor() if survey.run(name).kind is RunKind.GRAVITY else 1.0
    return RunFacts(
        run=name,
        bore_m=survey.pipe(name).bore_m,
        length_m=survey.drawn(name).length_m,
        flow_m3_s=flow,
        velocity_m_s=survey.velocity(name),
        loss_m=line.loss(flow, survey.water),
        overload_loss_m=line.loss(flow * factor, survey.water),
    )


def _pump_facts(survey: Survey, vessel: str, grown_m: float) -> PumpFacts:
    drawn = survey.drawing.pumps[vessel]
    flow = survey.pump_flow(vessel)
    paths = [path for path in survey.pressure_paths if survey.run(path[0]).start == vessel]
    return PumpFacts(
        vessel=vessel,
        part=drawn.part,
        mode=drawn.mode,
        speed=drawn.speed,
        duty_flow_m3_s=flow,
        duty_head_m=duty_head(survey, vessel),
        required_head_m=max(required_head(survey, path, 1.0, grown_m) for path in paths),
        watts=watts_at_speed(survey.catalog.pumps[drawn.part].watts, drawn.speed),
    )


def order_cost(survey: Survey) -> Cost:
    """What the order costs and what pumps and timed valves cost to run, in the catalogue's currency."""
    wishes = survey.site.wishes
    watts = sum(
        watts_at_speed(survey.catalog.pumps[pump.part].watts, pump.speed)
        for pump in survey.drawing.pumps.values()
    )
    watts += sum(survey.catalog.air[pump.part].watts for pump in survey.drawing.air if not pump.battery)
    watts += sum(timed_watts(survey.catalog, survey.site, drawn) for drawn in survey.drawing.runs.values())
    running = energy_kwh_per_year(watts) * wishes.power_price_per_kwh
    goods, freight = survey.goods_cents() / 100, survey.freight_cents() / 100
    return Cost(
        purchase=goods,
        freight=freight,
        running_per_year=running,
        ownership=goods + freight + wishes.ownership_years * running,
        currency=survey.catalog.currency,
    )
