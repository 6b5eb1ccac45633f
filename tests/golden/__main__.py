"""`python -m tests.golden`: make the kept files anew; what changed is then read in a diff."""

from tests.golden.make import RESULTS, made
from tests.golden.test_golden import KEPT


def main() -> None:
    """Write what is made of every result, and nothing else."""
    KEPT.mkdir(exist_ok=True)
    texts: dict[str, str] = {}
    for name in RESULTS:
        texts |= made(name)
    for file in KEPT.iterdir():
        if file.name not in texts:
            file.unlink()
    for name, text in texts.items():
        (KEPT / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
