"""Facts in their plain form, for the journal: a dictionary of JSON values, by the names of
the fields, and back. What a later program has added is passed over, what an earlier one did not
know yet has its default."""

from __future__ import annotations

from dataclasses import asdict, fields, replace
from typing import Any, get_args

from mixer.pour.facts import Fact, Opened, Plain
from mixer.pour.recipe import Component, Recipe, Terms

_KINDS: dict[str, type[Any]] = {made.kind: made for made in get_args(Fact)}


def to_plain(fact: Fact) -> Plain:
    """The fact's data as JSON values, without its time (which the envelope carries).

    >>> from mixer.pour.facts import Begun
    >>> to_plain(Begun(at_ms=5, component=1))
    {'component': 1, 'unseen_ms': 0, 'astray_ug': 0}
    """
    if isinstance(fact, Opened):
        terms = asdict(fact.terms)
        terms["recipe"]["components"] = list(terms["recipe"]["components"])
        terms["left_ug"] = list(terms["left_ug"])
        return {**fact.about, **terms}
    return {
        f.name: list(value) if isinstance(value := getattr(fact, f.name), tuple) else value
        for f in fields(fact)
        if f.name != "at_ms"
    }


def from_plain(kind: str, at_ms: int, data: Plain) -> Fact | None:
    """The fact again, or ``None`` for a kind that is no part of a pour.

    >>> from_plain("begun", 5, {"component": 1, "a_later_field": 0})
    Begun(at_ms=5, component=1, unseen_ms=0, astray_ug=0)
    """
    made = _KINDS.get(kind)
    if made is None:
        return None
    if made is Opened:
        return _opened(at_ms, data)
    values = {
        f.name: tuple(data[f.name]) if isinstance(data[f.name], list) else data[f.name]
        for f in fields(made)
        if f.name in data
    }
    fact: Fact = made(at_ms=at_ms, **values)
    return fact


def _opened(at_ms: int, data: Plain) -> Opened:
    own = {f.name for f in fields(Terms)}
    recipe = data["recipe"]
    components = tuple(
        Component(**{f.name: c[f.name] for f in fields(Component) if f.name in c})
        for c in recipe["components"]
    )
    terms = Terms(
        recipe=Recipe(components, recipe["ratio_tolerance"], recipe["split_tolerance"]),
        **{name: data[name] for name in own - {"recipe"} if name in data},
    )
    terms = replace(terms, left_ug=tuple(terms.left_ug))
    return Opened(at_ms, terms, {k: v for k, v in data.items() if k not in own})
