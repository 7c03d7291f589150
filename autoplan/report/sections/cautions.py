"""What every shown design says about safety, in every form it is shown in."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "This plan comes from a calculation and is a first pass: run it with water and look for leaks and "
    "rising levels before any fish go in.",
    "Local codes and licensed trades come first: where they ask for something else than this plan, do what "
    "they ask.",
    "Mains power near water can kill: protect every circuit with a residual-current device and have a "
    "licensed electrician connect it by the local wiring rules.",
    "Small children drown in open water: cover or fence every tank, bed and sump.",
    "A child can drain a tank by turning a tap: fit drain valves whose handles come off, and take them off.",
    "Water weighs 1 kg per litre (8.4 lb per US gallon), and wet bed media weighs more on top: before "
    "standing vessels on a slab, a deck or a roof, have someone licensed to do so check that it "
    "carries them.",
    "Solvent cement gives off harmful fumes and catches fire: glue in moving air, away from flames and "
    "sparks, and let joints cure before water goes in.",
    "Never join this system to drinking-water mains without an approved backflow device.",
    "Copper, brass and galvanised parts in the wet loop poison fish: use parts sold for drinking water.",
    "Fish suffocate when the power fails: keep a battery air pump ready.",
)
"""One clear sentence each. Common practice; none of them replaces the law of the place."""

LIFE: tuple[str, ...] = (
    "Mains power near water kills: residual-current device, electrician.",
    "Children drown in open water and turn taps: cover, fence, no handles.",
    "Water weighs {water}, {heaviest}: have slabs, decks and roofs checked.",
    "Fumes of solvent cement harm and burn: moving air, no flames.",
    "Fish suffocate {soon} after the power fails: a battery air pump, ready.",
    "A first pass by calculation: test with water first; local codes rule.",
)
"""Those that concern life in a line each, where all would not be read; `site_cautions.life` fills them in."""
