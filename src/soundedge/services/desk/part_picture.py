"""Where on the part does everything lie, for a page? The whole part, closer where damage is small on it, what the
lines mean, and the same in words. It draws nothing itself (report/part_drawing.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from ...basis.sentences import Sentence, words
from ...job.judge import Outcome
from ...report.part_drawing import View, close_up, key_line, part_drawing, whole
from ...report.part_frame import Frame
from ...report.part_layers import marks_of, part_frame
from ...report.part_marks import Mark, lines, named

SMALL = 0.45  # of the whole drawing: damage that takes less of it is drawn closer too
WIDE_PX = 358.0


@dataclass(frozen=True)
class Reader:
    """Who reads it: the language, and in which unit lengths are said."""

    language: str = "en"
    units: str = "metric"

    def said(self, sentence: Any) -> str:
        """A sentence for them; any other text as it is."""
        return sentence.text(self.language, self.units) if isinstance(sentence, Sentence) else str(sentence)

    @property
    def length(self) -> tuple[str, float]:
        """The unit of lengths on a drawing, and how many mm it has."""
        return ("in", 25.4) if self.units == "us" else ("mm", 1.0)


@dataclass(frozen=True)
class PartPicture:
    """A part with what lies on it: SVG of the whole, SVG of it closer (empty where the whole shows it well), what is on it in
    words, and each sort that is on it as (SVG of its line, what it is)."""

    whole: str
    close: str
    lines: list[str]
    key: list[tuple[str, str]]

    @property
    def shown(self) -> list[str]:
        """The drawings there are."""
        return [one for one in (self.whole, self.close) if one]


def part_picture(outcome: Outcome, reader: Reader, *, name: str = "part",
                 earlier: Iterable[tuple[str, float, float, float]] | None = None) -> PartPicture:
    """The part of a judged job and all that lies on it.

    Parameters
    ----------
    name : str
        Begins the ids in the drawings, unique on the page.
    earlier : iterable of (label, x, y, d), optional
        Earlier repairs, mm; left out, those that the job has written down.
    """
    return pictured(part_frame(outcome), marks_of(outcome, earlier), reader, name=name,
                    title=outcome.job.the("part.identified").tag)


def pictured(frame: Frame, marks: Sequence[Mark], reader: Reader, *, name: str, title: str) -> PartPicture:
    """The same of a frame and marks."""
    said = [reader.said(line) for line in lines(frame, marks)]
    unit, unit_mm = reader.length
    view = {"title": title, "desc": " ".join(said), "wide_px": WIDE_PX, "unit": unit, "unit_mm": unit_mm,
            "words": words(reader.language)}
    box = close_up(frame, marks)
    u0, v0, u1, v1 = whole(frame, marks)
    small = box is not None and max(box[2] - box[0], box[3] - box[1]) < SMALL * max(u1 - u0, v1 - v0)
    return PartPicture(
        part_drawing(frame, marks, View(name=f"{name}-whole", **view)),  # type: ignore[arg-type]
        part_drawing(frame, marks, View(name=f"{name}-close", box=box, **view)) if small else "",  # type: ignore[arg-type]
        said,
        [(key_line(sort, f"{name}-key"), reader.said(what)) for sort, what in named(marks)],
    )
