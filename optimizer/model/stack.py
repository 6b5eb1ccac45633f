"""A stack as names: packets of discs, bottom to top."""

from __future__ import annotations

from optimizer import text

#: a packet as disc names, bottom to top, and a stack as packets
Packet = tuple[str, ...]
Stack = tuple[Packet, ...]
#: the shims of each stack of a set, in mm
Shims = tuple[tuple[float, ...], ...]
#: the stacks of one clutch with their shims
StackSet = tuple[tuple[Stack, ...], Shims]


def shim_totals(shims: Shims) -> tuple[float, ...]:
    """Thickness in mm (S) of all shims under each stack."""
    return tuple(sum(each) for each in shims)


def discs_of(packs: Stack) -> set[str]:
    """Names of the discs of a stack."""
    return {disc for packet in packs for disc in packet}


def same_stack(one: Stack, other: Stack) -> bool:
    """Whether two stacks have the same packets, in any order."""
    packets, others = (sorted(tuple(sorted(p)) for p in stack) for stack in (one, other))
    return packets == others


def stack_words(packs: Stack) -> str:
    """Say a stack from the bottom; the file of readings spells it so too."""
    return " ".join(text.packet(packet) for packet in packs)
