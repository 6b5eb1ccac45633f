"""`python -m tests.rooms`: draw the rooms, their lines and who imports whom into DEVELOPERS.md.

An import that also follows through another room is not drawn, so that the picture can be read.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict

from tests.test_rooms import RANK, RANKS, ROOT, imports, modules, room_of

DOCUMENT = ROOT / "DEVELOPERS.md"
BLOCK = re.compile(r"```mermaid\n.*?```", re.DOTALL)


def lines() -> Counter[str]:
    """Lines of every room."""
    found: Counter[str] = Counter()
    for path in modules():
        if room := room_of(path):
            found[room] += len(path.read_text(encoding="utf-8").splitlines())
    return found


def imported() -> dict[str, set[str]]:
    """Rooms that each room imports, but for those that follow through another of them."""
    direct: defaultdict[str, set[str]] = defaultdict(set)
    for path in modules():
        for _, name in imports(path, path.read_text(encoding="utf-8")):
            top, _, rest = name.partition(".")
            if top == "optimizer" and (other := rest.partition(".")[0]) in RANK:
                direct[room_of(path)].add(other)
    reached: dict[str, set[str]] = {}
    for room in sorted(RANK, key=lambda room: RANK[room]):
        direct[room].discard(room)
        reached[room] = direct[room].union(*(reached[other] for other in direct[room]))
    return {
        room: direct[room] - set().union(*(reached[other] for other in direct[room]))
        for room in RANK
    }


def picture() -> str:
    """Mermaid text: highest rooms first, an arrow to whom each imports."""
    count, arrows = lines(), imported()
    drawn = ["```mermaid", "graph TD"]
    for rank in reversed(RANKS):
        for room in sorted(rank):
            drawn.append(f'  {room}["{room} {count[room]}"]')
            if arrows[room]:
                drawn.append(f"  {room} --> {' & '.join(sorted(arrows[room]))}")
    return "\n".join([*drawn, "```"])


def main() -> None:
    """Draw it anew in its place."""
    text = DOCUMENT.read_text(encoding="utf-8")
    assert len(BLOCK.findall(text)) == 1
    DOCUMENT.write_text(BLOCK.sub(lambda _: picture(), text), encoding="utf-8")


if __name__ == "__main__":
    main()
