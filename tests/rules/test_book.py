"""Rule settings as the problem file has them: read, refused all at once, switched off."""

from __future__ import annotations

import re

import pytest

from autoplan.errors import InputError
from autoplan.problem.brief import Flushing
from autoplan.rules import asked
from autoplan.rules.asked import Joined, LetIn, OnShelf, Starting, Turned
from autoplan.rules.book import ALL, read_rules
from autoplan.units import read


def mistakes(plan, settings) -> list[str]:
    """Every mistake in some settings, as it is printed."""
    with pytest.raises(InputError) as caught:
        read_rules(plan.rules(settings).site)
    return [str(mistake) for mistake in caught.value.mistakes]


def test_ids_are_unique_and_plain() -> None:
    """Rule ids are words joined by hyphens, no two alike, each with its sentence, source and unit."""
    ids = [kind.id for kind in ALL]
    assert len(set(ids)) == len(ids)
    for kind in ALL:
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", kind.id)
        assert kind.sentence.endswith(".")
        assert kind.source
        assert kind.unit


def test_all_rules_hold_by_default(plan) -> None:
    """Without a word in the problem every rule is in force, and every setting an assumption with a mark.

    But for those of rules that have nothing to say of the site.
    """
    book = read_rules(plan.rules({}).site)
    assert [rule.id for rule in book.rules] == [kind.id for kind in ALL]
    assert book.off == ()
    speaking = [kind for kind in ALL if kind.concerns(plan.site)]
    places = {f"rules.{kind.id}.{setting.key}" for kind in speaking for setting in kind.settings}
    assert {assumption.place for assumption in book.assumptions} == places
    assert all(assumption.mark and assumption.why for assumption in book.assumptions)


@pytest.mark.parametrize(
    ("kind", "setting"),
    [(kind, setting) for kind in ALL for setting in kind.settings],
    ids=lambda item: getattr(item, "id", getattr(item, "key", "")),
)
def test_a_setting_given_is_no_assumption(plan, kind, setting) -> None:
    """What the problem says is taken, and not listed as assumed; the others stay as they are."""
    number, unit = re.fullmatch(r"([\d.]+)(.*)", setting.default).groups()
    text = f"{float(number) * 1.4:g}{unit}"
    book = read_rules(plan.rules({kind.id: {setting.key: text}}).site)
    assert book.settings[kind.id][setting.key] == pytest.approx(
        1.4 * read(setting.default, setting.dimension)
    )
    usual = read_rules(plan.rules({}).site)
    gone = {a.place for a in usual.assumptions} - {a.place for a in book.assumptions}
    assert gone == ({f"rules.{kind.id}.{setting.key}"} if kind.concerns(plan.site) else set())
    changed = {
        (rule, key)
        for rule, values in book.settings.items()
        for key, value in values.items()
        if value != usual.settings[rule][key]
    }
    assert changed == {(kind.id, setting.key)}


def test_settings_of_what_is_not_asked_for_are_no_assumptions(plan) -> None:
    """Without overflow, screen, waste drain, timer or the like theirs are not listed; with one they are."""
    silent = {kind.id for kind in ALL if not kind.concerns(plan.site)}
    asked_for = {
        "emergency-overflow",
        "flushing-point",
        "screens",
        "waste-drain",
        "settler-inlet",
        "spare-bed",
        "child-safe",
        "strainer",
        "drain-vent",
        "drain-surge",
        "trunk-bore",
        "share-trim",
        "share-hole",
        "collector",
        "shared-drain",
    }
    timed = {"timer-fill", "timer-drain", "timer-shut", "drain-hole", "weep-lip", "weep-empty"}
    timed |= {"crest-start", "crest-fit"}
    guarded = {"check-valve", "over-rim-fill", "over-rim-start", "surge", "drowned-mouth"}
    assert silent == asked_for | timed | guarded | {
        "air-supply",
        "air-back",
        "pump-spare",
        "drain-down",
        "second-half",
    }
    site = plan.wishes(flushing_points=Flushing.ALL).site
    assert "rules.flushing-point.below" in {found.place for found in read_rules(site).assumptions}


def test_every_mistake_at_once(plan) -> None:
    """An unknown rule, an unknown key, a wrong unit, a negative number, a bare number, a wrong switch."""
    found = mistakes(
        plan,
        {
            "drain-bor": {"large": "50 mm"},
            "drain-bore": {"larg": "50 mm", "above": "50 mm"},
            "drain-fall": {"reserve": "-1 mm"},
            "overload": {"freeboard": 20},
            "sump-high": {"off": "yes"},
        },
    )
    assert len(found) == 6
    for place, words in {
        "rules.drain-bor:": ["'drain-bor'", "did you mean 'drain-bore'"],
        "rules.drain-bore.larg:": ["'larg'", "did you mean 'large'"],
        "rules.drain-bore.above:": ["50 mm"],
        "rules.drain-fall.reserve:": ["'-1 mm' is below zero", "'10 mm'"],
        "rules.overload.freeboard:": ["20"],
        "rules.sump-high.off:": ["'yes' is neither true nor false", "off = true"],
    }.items():
        (line,) = [line for line in found if f" {place}" in line]
        assert line.startswith(plan.site.file)
        for word in words:
            assert word in line


def test_nothing_close_lists_what_there_is(plan) -> None:
    """A word that is like nothing gets the list of what is known."""
    (line,) = mistakes(plan, {"zzz": {}})
    assert all(kind.id in line for kind in ALL)
    (line,) = mistakes(plan, {"drain-turns": {"zzz": 1}})
    assert "known are off" in line


@pytest.mark.parametrize(("text", "good"), [("0 mm", True), ("-0.001 mm", False)])
def test_nought_is_the_least(plan, text: str, good: bool) -> None:
    """A setting of nought is a choice, a negative one a mistake."""
    settings = {"drain-fall": {"reserve": text}}
    if good:
        assert read_rules(plan.rules(settings).site).settings["drain-fall"]["reserve"] == 0.0
    else:
        assert len(mistakes(plan, settings)) == 1


@pytest.mark.parametrize("kind", ALL, ids=lambda kind: kind.id)
def test_switched_off(plan, kind) -> None:
    """`off = true` takes one rule out and leaves the others and all settings; `off = false` leaves it in."""
    book = read_rules(plan.rules({kind.id: {"off": True}}).site)
    assert book.off == (kind.id,)
    assert [rule.id for rule in book.rules] == [other.id for other in ALL if other is not kind]
    assert book.settings == read_rules(plan.rules({}).site).settings
    assert read_rules(plan.rules({kind.id: {"off": False}}).site).off == ()


def test_without(plan) -> None:
    """A book without some of its rules keeps the order of the rest."""
    book = read_rules(plan.site)
    less = book.without("turnover", "budget")
    assert [rule.id for rule in less.rules] == [
        kind.id for kind in ALL if kind.id not in ("turnover", "budget")
    ]
    assert less.off == ("turnover", "budget")
    assert book.without().rules == book.rules


def test_only_rules_with_an_answer_of_their_own_are_asked(plan) -> None:
    """Of a question those rules are asked that answer it, in the book's order; of two, those of either."""
    book = read_rules(plan.rules({}).site)
    for question in (Turned, Starting, LetIn, Joined, OnShelf):
        marked = [
            rule
            for rule in book.rules
            if any(getattr(method, "asked", None) is question for method in vars(type(rule)).values())
        ]
        assert marked
        assert list(book.answering(question)) == marked
    both = {rule.id for asked in (Starting, LetIn) for rule in book.answering(asked)}
    assert {rule.id for rule in book.answering(Starting, LetIn)} == both
    first = book.answering(Turned)[0]
    assert first.id not in {rule.id for rule in book.without(first.id).answering(Turned)}


def test_every_question_has_an_answer() -> None:
    """Whatever the optimiser asks some rule answers, and no rule refuses what it has no answer to."""
    kinds = {kind for kind in vars(asked).values() if getattr(kind, "__module__", "") == asked.__name__}
    assert {kind for rule in ALL for kind in rule.answered} == kinds
    assert all(rule({}).admits(object()) for rule in ALL)
