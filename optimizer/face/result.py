"""What every result can do: be read, be a table, be kept."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from optimizer import wrapping
from optimizer.io.files import write_all_new

if TYPE_CHECKING:
    import pandas as pd


class Result(ABC):
    """An answer; `print(result.summary())` reads as the command of the same name."""

    #: name of the files that `save` writes
    saved_as: ClassVar[str]

    @abstractmethod
    def summary(self) -> str:
        """Return the answer as text of at most 80 columns, in the units of the job."""

    @abstractmethod
    def to_frame(self) -> pd.DataFrame:
        """Return the answer as a table; every column of a quantity ends in its unit."""

    @abstractmethod
    def document(self) -> str:
        """Return all of it as one JSON document."""

    def files(self, folder: Path) -> Mapping[Path, str | bytes]:
        """Return what `save` writes, by path: the document and the summary."""
        stem = folder / self.saved_as
        return {
            stem.with_suffix(".json"): self.document(),
            stem.with_suffix(".txt"): self.summary(),
        }

    def why(self) -> str:
        """Return what the answer rests on, as text; what `--why` adds."""
        return ""

    def text(self, why: bool) -> str:
        """Return the summary, and where it is asked for also what it rests on."""
        return f"{self.summary()}\n{self.why()}" if why else self.summary()

    def save(self, folder: str | Path) -> tuple[Path, ...]:
        """Write the answer into a new folder, or a folder without files of these names.

        Returns
        -------
        tuple of Path
            the files written

        Raises
        ------
        InputError
            when one of them is there already or cannot be written; then none is.
        """
        with wrapping.columns(wrapping.FULL):
            contents = self.files(Path(folder))
        write_all_new(contents)
        return tuple(contents)

    def _repr_html_(self) -> str:
        """Show summary and table in a notebook."""
        return f"<pre>{escape(self.summary())}</pre>{self.to_frame().to_html(index=False)}"
