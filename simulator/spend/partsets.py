"""What may be bought together: every set of parts that fits the bike and the budget.

A set is one choice a slot. Sets are walked slot by slot, depth first and in blocks, so that
memory stays bounded however many there are; a branch is left as soon as no choice in the slots
to come could bring it under the budget or give it what it needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.setup import Catalogue, Part, part_cents

IntArray = NDArray[np.int64]
ChoiceArray = NDArray[np.int16]
TagArray = NDArray[np.uint64]

KEPT = -1
"""What an option is when what is there now stays."""


def covered_by(number: int) -> int:
    """What an option is when the slot is covered by a part that stands in another slot."""
    return KEPT - 1 - number


BLOCK = 8192
"""Most sets in a block."""

TAGS_A_WORD = 64


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Menu:
    """The options of every slot, as arrays.

    Attributes
    ----------
    parts : tuple of tuple of int
        For each slot, what each option is: the number of a part in the catalogue, `KEPT` or
        `covered_by` a part. The first option of each slot keeps what is there.
    cents : tuple of (n_options,) arrays of int
        Price of each option in hundredths, all of it in the first slot that a part takes.
    provides, needs, excludes : tuple of (n_options, n_words) arrays of uint64
        Tags as bits.
    fixed_tags : (n_words,) array of uint64
        Tags of the bike itself.
    """

    catalogue: Catalogue
    parts: tuple[tuple[int, ...], ...]
    cents: tuple[IntArray, ...]
    provides: tuple[TagArray, ...]
    needs: tuple[TagArray, ...]
    excludes: tuple[TagArray, ...]
    fixed_tags: TagArray

    @property
    def n_slots(self) -> int:
        """Number of slots."""
        return len(self.parts)

    @property
    def n_raw(self) -> int:
        """Number of ways to take one option a slot, whether they go together or not."""
        product = 1
        for options in self.parts:
            product *= len(options)
        return product

    def parts_of(self, choices: tuple[int, ...]) -> tuple[Part, ...]:
        """The parts of a set, in the order of the slots."""
        numbers = (self.parts[slot][option] for slot, option in enumerate(choices))
        return tuple(self.catalogue.parts[number] for number in numbers if number >= 0)

    def choices_of(self, parts: Iterable[Part]) -> tuple[int, ...]:
        """The set of some parts, each in a slot of its own."""
        choices = [0] * self.n_slots
        for part in parts:
            number = self.catalogue.parts.index(part)
            for slot, options in enumerate(self.parts):
                for what in (number, covered_by(number)):
                    if what in options:
                        choices[slot] = options.index(what)
        return tuple(choices)


def make_menu(catalogue: Catalogue) -> Menu:
    """Lay out a catalogue slot by slot.

    A part that takes several slots stands in the first of them; in each of the others an option
    of its own says that it is covered. Tags that no user can write tie the two together.
    """
    names = [slot.name for slot in catalogue.slots]
    options: list[list[int]] = [[KEPT] for _ in names]
    provides: list[list[set[object]]] = [[set(slot.provides)] for slot in catalogue.slots]
    needs: list[list[set[object]]] = [[set(slot.needs)] for slot in catalogue.slots]
    excludes: list[list[set[object]]] = [[set(slot.excludes)] for slot in catalogue.slots]
    cents = [[0] for _ in names]
    for number, part in enumerate(catalogue.parts):
        first, *others = sorted(names.index(name) for name in part.slots)
        options[first].append(number)
        cents[first].append(part_cents(catalogue, part))
        provides[first].append({*part.provides, (number, first)})
        needs[first].append({*part.needs, *((number, other) for other in others)})
        excludes[first].append(set(part.excludes))
        for other in others:
            options[other].append(covered_by(number))
            cents[other].append(0)
            provides[other].append({(number, other)})
            needs[other].append({(number, first)})
            excludes[other].append(set())
    told = [tag for slot in (*needs, *excludes) for tags in slot for tag in tags]
    bits = {tag: bit for bit, tag in enumerate(dict.fromkeys(told))}
    n_words = max(1, -(-len(bits) // TAGS_A_WORD))

    def words(slots: list[list[set[object]]]) -> tuple[TagArray, ...]:
        return tuple(
            np.array([_words(tags, bits, n_words) for tags in slot], dtype=np.uint64)
            for slot in slots
        )

    return Menu(
        catalogue=catalogue,
        parts=tuple(tuple(slot) for slot in options),
        cents=tuple(np.array(slot, dtype=np.int64) for slot in cents),
        provides=words(provides),
        needs=words(needs),
        excludes=words(excludes),
        fixed_tags=np.array(_words(set(catalogue.provides), bits, n_words), dtype=np.uint64),
    )


def _words(tags: set[object], bits: dict[object, int], n_words: int) -> list[int]:
    words = [0] * n_words
    for tag in tags:
        if tag in bits:
            words[bits[tag] // TAGS_A_WORD] |= 1 << bits[tag] % TAGS_A_WORD
    return words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetBlock:
    """Some sets, or beginnings of sets.

    Attributes
    ----------
    choices : (n, n_slots) array of int
        Option in each slot.
    cents : (n,) array of int
        Price in hundredths.
    """

    choices: ChoiceArray
    cents: IntArray

    def __len__(self) -> int:
        return len(self.cents)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Branch:
    """Beginnings of sets with the tags that they have, need and exclude so far."""

    sets: SetBlock
    provides: TagArray
    needs: TagArray
    excludes: TagArray

    def taken(self, rows: slice | IntArray) -> _Branch:
        return _Branch(
            sets=SetBlock(choices=self.sets.choices[rows], cents=self.sets.cents[rows]),
            provides=self.provides[rows],
            needs=self.needs[rows],
            excludes=self.excludes[rows],
        )


def set_blocks(menu: Menu, most_cents: int, *, block: int = BLOCK) -> Iterator[SetBlock]:
    """Every set that goes together and costs at most so much, each once.

    Parameters
    ----------
    menu : Menu
        The options.
    most_cents : int
        The largest budget, in hundredths.
    block : int
        Most sets in a block.

    Yields
    ------
    SetBlock
        In an order that depends on the menu only.
    """
    n_slots = menu.n_slots
    least_to_come = np.zeros(n_slots + 1, dtype=np.int64)
    tags_to_come = np.zeros((n_slots + 1, len(menu.fixed_tags)), dtype=np.uint64)
    for slot in reversed(range(n_slots)):
        least_to_come[slot] = least_to_come[slot + 1] + menu.cents[slot].min()
        tags_to_come[slot] = tags_to_come[slot + 1] | np.bitwise_or.reduce(
            menu.provides[slot], axis=0
        )
    none = np.zeros((1, len(menu.fixed_tags)), dtype=np.uint64)
    waiting = [
        _Branch(
            sets=SetBlock(
                choices=np.empty((1, 0), dtype=np.int16), cents=np.zeros(1, dtype=np.int64)
            ),
            provides=menu.fixed_tags[None, :],
            needs=none,
            excludes=none,
        )
    ]
    while waiting:
        branch = waiting.pop()
        slot = branch.sets.choices.shape[1]
        if slot == n_slots:
            yield branch.sets
            continue
        room = max(1, block // len(menu.parts[slot]))
        pieces = [
            branch.taken(slice(start, start + room)) for start in range(0, len(branch.sets), room)
        ]
        grown = [
            _grown(menu, piece, slot, most_cents - least_to_come[slot + 1], tags_to_come[slot + 1])
            for piece in pieces[:1]
        ]
        # The rest of a large branch waits, so that no more than one block a slot is ever held.
        if len(branch.sets) > room:
            waiting.append(branch.taken(slice(room, None)))
        waiting.extend(piece for piece in grown if len(piece.sets))


def _grown(
    menu: Menu, branch: _Branch, slot: int, most_cents: int, tags_to_come: TagArray
) -> _Branch:
    """Every branch with every option of the next slot, without those that can lead nowhere."""
    n_options = len(menu.parts[slot])
    rows = np.repeat(np.arange(len(branch.sets)), n_options)
    options = np.tile(np.arange(n_options), len(branch.sets))
    cents = branch.sets.cents[rows] + menu.cents[slot][options]
    provides = branch.provides[rows] | menu.provides[slot][options]
    needs = branch.needs[rows] | menu.needs[slot][options]
    excludes = branch.excludes[rows] | menu.excludes[slot][options]
    fits = (
        (cents <= most_cents)
        & ((needs & ~(provides | tags_to_come)) == 0).all(axis=1)
        & ((excludes & provides) == 0).all(axis=1)
    )
    choices = np.column_stack([branch.sets.choices[rows], options.astype(np.int16)])
    return _Branch(
        sets=SetBlock(choices=choices, cents=cents),
        provides=provides,
        needs=needs,
        excludes=excludes,
    ).taken(np.flatnonzero(fits))


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What `set_blocks` is going to give: how many sets, and the parts that are in none."""

    n_sets: int
    unused: tuple[Part, ...]


def survey_sets(menu: Menu, most_cents: int, *, most: int) -> Survey:
    """Walk all sets without riding them; it stops soon after `most` sets."""
    n_sets = 0
    uses = [np.zeros(len(options), dtype=np.int64) for options in menu.parts]
    for sets in set_blocks(menu, most_cents, block=16 * BLOCK):
        n_sets += len(sets)
        for slot, counts in enumerate(uses):
            counts += np.bincount(sets.choices[:, slot], minlength=len(counts))
        if n_sets > most:
            break
    used = {
        number
        for counts, options in zip(uses, menu.parts, strict=True)
        for count, number in zip(counts, options, strict=True)
        if count
    }
    parts = menu.catalogue.parts
    return Survey(n_sets=n_sets, unused=tuple(p for i, p in enumerate(parts) if i not in used))


def even_blocks(blocks: Iterator[SetBlock], size: int) -> Iterator[SetBlock]:
    """The same sets in the same order, in blocks of one size but for the last."""
    held: list[SetBlock] = []
    n_held = 0
    for each in blocks:
        held.append(each)
        n_held += len(each)
        while n_held >= size:
            whole = joined(held)
            yield SetBlock(choices=whole.choices[:size], cents=whole.cents[:size])
            held = [SetBlock(choices=whole.choices[size:], cents=whole.cents[size:])]
            n_held -= size
    if n_held:
        yield joined(held)


def joined(blocks: list[SetBlock]) -> SetBlock:
    """Several blocks as one."""
    return SetBlock(
        choices=np.concatenate([each.choices for each in blocks]),
        cents=np.concatenate([each.cents for each in blocks]),
    )
