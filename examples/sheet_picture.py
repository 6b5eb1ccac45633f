"""Make sheet.png, the picture of a build sheet in README, from the example kart_mm.

Run it in the folder of the project: python examples/sheet_picture.py [FILE]. It wants chromium.
"""

import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from optimizer import face as es
from optimizer.report.page import sheet

HERE = Path(__file__).parent
#: the day printed on it, so that the same example gives the same picture
DAY = date(2026, 1, 31)
WIDTH, HEIGHT = 1000, 785
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    f"--window-size={WIDTH},{HEIGHT}",
)  # fmt: skip


def take(browser: str, picture: Path) -> None:
    """Match the example and write the head of its sheet as a picture."""
    found = es.match(HERE / "kart_mm" / "job.toml")
    page = sheet(found.plan, found.work, DAY)
    with TemporaryDirectory() as folder:
        written = Path(folder, "sheet.html")
        written.write_text(page, encoding="utf-8")
        profile = f"--user-data-dir={Path(folder, 'profile')}"
        subprocess.run(
            [browser, *FLAGS, profile, f"--screenshot={picture.resolve()}", written.as_uri()],
            check=True, capture_output=True,
        )  # fmt: skip


if __name__ == "__main__":
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        sys.exit("No chromium was found: it takes the picture.")
    take(browser, Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "sheet.png")
