"""Stacks in words."""

from __future__ import annotations

from optimizer import text
from optimizer.bench.rig import Packs


def stack_words(packs: Packs) -> str:
    """Say a stack from the bottom; the file of readings spells it so too."""
    return " ".join(text.packet(packet) for packet in packs)
