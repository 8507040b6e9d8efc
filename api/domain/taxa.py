"""Names at any rank, what stands below what, and names with doubt.

A name may be a synonym; records and conditions are resolved to accepted ids once, at the edge.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from api.domain.vocabulary import Doubt, Rank


@dataclass(frozen=True, slots=True, kw_only=True)
class Taxon:
    """One accepted name. ``parent`` is the id of the next name up that is in use, or None at the top."""

    id: str
    rank: Rank
    parent: str | None = None
    common: str = ""
    synonyms: tuple[str, ...] = ()
    origin: Literal["", "native", "non-native"] = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Identification:
    """What somebody called an animal: a name, its qualifier, or several names it may be."""

    taxon: str
    doubt: Doubt = ""
    one_of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fit:
    """How something fits a description: for certain, by its most likely reading, possibly at all."""

    certain: bool
    likely: bool
    possible: bool

    def __and__(self, other: Fit) -> Fit:
        return Fit(
            self.certain and other.certain,
            self.likely and other.likely,
            self.possible and other.possible,
        )


YES = Fit(certain=True, likely=True, possible=True)
NO = Fit(certain=False, likely=False, possible=False)
MAYBE = Fit(certain=False, likely=False, possible=True)
PROBABLY = Fit(certain=False, likely=True, possible=True)


class UnknownTaxonError(ValueError):
    """A name that the list of taxa does not hold; carries the name."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(f"'{name}' is not in the list of taxa")


@dataclass(slots=True)
class Taxa:
    """The names in use and their order. Build it once; it does not change afterwards.

    Raises ValueError for a name given twice, a parent that is not listed, or a circle of parents.
    """

    taxa: dict[str, Taxon]
    _names: dict[str, str] = field(default_factory=dict)
    _lines: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _fits: dict[tuple[Identification, tuple[str, ...]], Fit] = field(default_factory=dict, compare=False)

    @classmethod
    def of(cls, taxa: Iterable[Taxon]) -> Taxa:
        """Build the list, refusing what cannot be true."""
        tree = cls({})
        for taxon in taxa:
            if taxon.id in tree.taxa:
                raise ValueError(f"the taxon '{taxon.id}' is listed twice")
            tree.taxa[taxon.id] = taxon
        for taxon in tree.taxa.values():
            for name in (taxon.id, *taxon.synonyms):
                held = tree._names.setdefault(name.casefold(), taxon.id)
                if held != taxon.id:
                    raise ValueError(f"the name '{name}' stands for both '{held}' and '{taxon.id}'")
        for name in tree.taxa:
            tree._lines[name] = tree._climb(name)
        return tree

    def _climb(self, name: str) -> tuple[str, ...]:
        line: list[str] = []
        here: str | None = name
        while here is not None:
            if here in line:
                raise ValueError(f"the parents of '{name}' run in a circle: {' > '.join([*line, here])}")
            if here not in self.taxa:
                raise ValueError(f"the parent '{here}' of '{line[-1]}' is not in the list of taxa")
            line.append(here)
            here = self.taxa[here].parent
        return tuple(line)

    def resolve(self, name: str) -> str:
        """Give the accepted id for a name or synonym; raises UnknownTaxonError."""
        try:
            return self._names[name.strip().casefold()]
        except KeyError:
            raise UnknownTaxonError(name) from None

    def lineage(self, taxon: str) -> tuple[str, ...]:
        """Give the taxon and all above it, nearest first."""
        return self._lines[taxon]

    def is_within(self, taxon: str, group: str) -> bool:
        """Tell whether ``taxon`` is ``group`` or stands below it."""
        return group in self._lines[taxon]

    def certain_name(self, name: Identification) -> str | None:
        """Give the lowest name that is sure: one rank up for a qualified name, None at the top."""
        return self.taxa[name.taxon].parent if name.doubt else name.taxon

    def fit(self, name: Identification, members: Iterable[str]) -> Fit:
        """Tell how an animal so named fits a set of taxa (each covering all below it)."""
        key = (name, tuple(members))
        found = self._fits.get(key)
        if found is None:
            found = self._fits[key] = self._fit(*key)
        return found

    def _fit(self, name: Identification, group: tuple[str, ...]) -> Fit:
        if name.one_of:
            fits = [self._fit_sure(taxon, group) for taxon in name.one_of]
            likely = self._fit_sure(name.taxon, group).certain if name.taxon in name.one_of else False
            certain = all(fit.certain for fit in fits)
            return Fit(certain, certain or likely, any(fit.possible for fit in fits))
        sure = self.certain_name(name)
        if sure is None:
            return PROBABLY if self._fit_sure(name.taxon, group).certain else (MAYBE if group else NO)
        fit = self._fit_sure(sure, group)
        if name.doubt and not fit.certain and self._fit_sure(name.taxon, group).certain:
            return PROBABLY
        return fit

    def _fit_sure(self, taxon: str, group: tuple[str, ...]) -> Fit:
        above = self._lines[taxon]
        if any(member in above for member in group):
            return YES
        if any(taxon in self._lines[member] for member in group):
            return MAYBE
        return NO
