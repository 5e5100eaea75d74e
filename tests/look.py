"""Draw what a user sees to ``look-out/``: the answer screen, every page at three widths, every paper in both sizes.

``make look`` runs it on the invented demo job. With ``--pictures`` the pictures of the README are renewed as well.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.look_pages import draw_pages

from airtally.cli import main as airtally
from airtally.record.documents import read_record
from airtally.report.pages import report_pages
from airtally.report.papers import PAPERS, paper_pdf
from airtally.report.screen import answer_screen
from airtally.store.engine import open_store
from airtally.store.folder import import_folder

ROOT = Path(__file__).resolve().parents[1]
OUT = ROOT / "look-out"
PICTURES = ROOT / "docs" / "pictures"
PAPER, INK = "#F7F2E6", "#1F1B16"
IN_README = {"account-390.png": ("account-phone.png", 1240), "account-1440.png": ("account-wide.png", 1720)}
"""Pictures of the README by the file that is drawn, and how much of its upper part. [px]"""


def draw_text(text: str, path: Path) -> None:
    """Draw a terminal text as a picture on paper ground."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    lines = text.rstrip("\n").split("\n")
    figure = pyplot.figure(figsize=(8.6, 0.148 * len(lines) + 0.3), facecolor=PAPER)
    figure.text(
        0.02, 0.985, "\n".join(lines), family="DejaVu Sans Mono", size=7.4, color=INK, va="top", linespacing=1.25
    )
    figure.savefig(path, dpi=170, facecolor=PAPER)
    pyplot.close(figure)


def sheets(pdf: Path, stem: str) -> list[Path]:
    """Draw every page of a PDF with poppler's pdftoppm."""
    tool = shutil.which("pdftoppm")
    if tool is None:
        raise SystemExit("pdftoppm is not installed: apt-get install poppler-utils")
    subprocess.run([tool, "-r", "80", "-png", str(pdf), str(OUT / stem)], check=True)  # noqa: S603
    return sorted(OUT.glob(f"{stem}-*.png"))


def renew(drawn: Path, picture: Path, height: int) -> None:
    """Renew a picture of the README by the upper part of what was drawn."""
    from PIL import Image

    with Image.open(drawn) as whole:
        whole.convert("RGB").crop((0, 0, whole.width, height)).save(picture, optimize=True)


def run() -> None:
    """Run the demo job and draw everything."""
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir()
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "demo-job"
        airtally(["demo", str(job)], standalone_mode=False)
        record = read_record(job / "record.json")
        draw_text(answer_screen(record, report="demo-job/report.pdf"), OUT / "answer.png")
        texts = report_pages(record)
        count = 1
        for paper, stem in (("us-letter", "letter"), ("a4", "a4")):
            for kind in PAPERS:
                pdf = OUT / f"{kind.name}-{stem}.pdf"
                pdf.write_bytes(paper_pdf(record, kind.name, paper=paper, texts=texts))
                count += len(sheets(pdf, f"{kind.name}-{stem}"))
        store = open_store(Path(folder) / "jobs.db")
        count += len(draw_pages(store, import_folder(store, job, "office"), OUT))
        store.close()
    if "--pictures" in sys.argv:
        for drawn, (picture, height) in IN_README.items():
            renew(OUT / drawn, PICTURES / picture, height)
    sys.stdout.write(f"{count} pictures in {OUT.name}/\n")


if __name__ == "__main__":
    run()
