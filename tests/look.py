"""Draw what a user sees to ``look-out/``: the answer screen and every page of the report, both papers.

``make look`` runs it on the invented demo job. With ``--pictures`` the two pictures of the README are
renewed as well.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from airtally.cli import main as airtally
from airtally.record.documents import read_record
from airtally.report.pages import report_pages
from airtally.report.papers import PAPERS, paper_pdf
from airtally.report.screen import answer_screen

ROOT = Path(__file__).resolve().parents[1]
OUT = ROOT / "look-out"
PICTURES = ROOT / "docs" / "pictures"
PAPER, INK = "#F7F2E6", "#1F1B16"


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


def pages(pdf: Path, stem: str) -> list[Path]:
    """Draw every page of a PDF with poppler's pdftoppm."""
    tool = shutil.which("pdftoppm")
    if tool is None:
        raise SystemExit("pdftoppm is not installed: apt-get install poppler-utils")
    subprocess.run([tool, "-r", "80", "-png", str(pdf), str(OUT / stem)], check=True)  # noqa: S603
    return sorted(OUT.glob(f"{stem}-*.png"))


def run() -> None:
    """Run the demo job and draw everything."""
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "demo-job"
        airtally(["demo", str(job)], standalone_mode=False)
        record = read_record(job / "record.json")
        draw_text(answer_screen(record, report="demo-job/report.pdf"), OUT / "answer.png")
        texts = report_pages(record)
        drawn = []
        for paper, stem in (("us-letter", "letter"), ("a4", "a4")):
            for kind in PAPERS:
                pdf = OUT / f"{kind.name}-{stem}.pdf"
                pdf.write_bytes(paper_pdf(record, kind.name, paper=paper, texts=texts))
                drawn.append(pages(pdf, f"{kind.name}-{stem}"))
    if "--pictures" in sys.argv:
        PICTURES.mkdir(exist_ok=True)
        shutil.copy(OUT / "answer.png", PICTURES / "answer.png")
        shutil.copy(drawn[0][0], PICTURES / "report-page-1.png")
    sys.stdout.write(f"{sum(map(len, drawn)) + 1} pictures in {OUT.name}/\n")


if __name__ == "__main__":
    run()
