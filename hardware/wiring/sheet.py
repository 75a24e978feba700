"""What an SVG drawing of a circuit is made of."""

from __future__ import annotations

from html import escape


class Sheet:
    """One drawing, in pixels from the top left."""

    def __init__(self, width: int, height: int, title: str) -> None:
        self.width, self.height = width, height
        self._rows = [f'<rect width="{width}" height="{height}" fill="#fff"/>']
        self.text(20, 30, title, size=18, bold=True)

    def line(self, *points: tuple[float, float], dashed: bool = False, colour: str = "#000") -> None:
        """A line through these points."""
        path = " ".join(f"{x:g},{y:g}" for x, y in points)
        dash = ' stroke-dasharray="6 4"' if dashed else ""
        self._rows.append(f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="1.6"{dash}/>')

    def box(  # noqa: PLR0913 - where, how large, and two ways to look
        self, x: float, y: float, width: float, height: float, *, fill: str = "none", dashed: bool = False
    ) -> None:
        """A rectangle from its upper left corner."""
        dash = ' stroke-dasharray="6 4"' if dashed else ""
        self._rows.append(
            f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="{fill}" stroke="#000"'
            f' stroke-width="1.6"{dash}/>'
        )

    def dot(self, x: float, y: float, *, terminal: bool = False) -> None:
        """A joint, or a terminal."""
        fill, radius = ("#fff", 5) if terminal else ("#000", 3)
        self._rows.append(
            f'<circle cx="{x:g}" cy="{y:g}" r="{radius}" fill="{fill}" stroke="#000" stroke-width="1.6"/>'
        )

    def text(  # noqa: PLR0913 - where, what, and four ways to look
        self, x: float, y: float, words: str, *, size: int = 13, bold: bool = False, anchor: str = "start",
        colour: str = "#000",
    ) -> None:  # fmt: skip
        """Words on a base line."""
        weight = ' font-weight="bold"' if bold else ""
        self._rows.append(
            f'<text x="{x:g}" y="{y:g}" font-size="{size}" text-anchor="{anchor}" fill="{colour}"{weight}>'
            f"{escape(words)}</text>"
        )

    def resistor(self, x: float, y: float, mark: str, *, upright: bool = False) -> None:
        """From (x, y) 60 to the right, or down."""
        if upright:
            self.line((x, y), (x, y + 12))
            self.box(x - 7, y + 12, 14, 36, fill="#fff")
            self.line((x, y + 48), (x, y + 60))
            self.text(x + 12, y + 34, mark)
        else:
            self.line((x, y), (x + 12, y))
            self.box(x + 12, y - 7, 36, 14, fill="#fff")
            self.line((x + 48, y), (x + 60, y))
            self.text(x + 30, y - 12, mark, anchor="middle")

    def contact(self, x: float, y: float, mark: str, *, normally_closed: bool = False) -> None:
        """From (x, y) 60 to the right."""
        self.line((x, y), (x + 16, y))
        self.line((x + 44, y), (x + 60, y))
        if normally_closed:
            self.line((x + 16, y), (x + 48, y - 4))
            self.line((x + 44, y), (x + 44, y - 10))
        else:
            self.line((x + 16, y), (x + 42, y - 16))
        self.text(x + 30, y - 20, mark, anchor="middle")

    def fuse(self, x: float, y: float, mark: str) -> None:
        """From (x, y) 60 to the right."""
        self.box(x + 10, y - 7, 40, 14, fill="#fff")
        self.line((x, y), (x + 60, y))
        self.text(x + 30, y - 12, mark, anchor="middle")

    def ground(self, x: float, y: float) -> None:
        """The sign for 0 V, hanging from (x, y)."""
        for half, down in ((10, 0), (6, 5), (2, 10)):
            self.line((x - half, y + down), (x + half, y + down))

    def diode(self, x: float, y: float, *, down: bool) -> None:
        """Between (x, y) and (x, y + 40)."""
        tip, base = (y + 26, y + 14) if down else (y + 14, y + 26)
        self.line((x, y), (x, y + 40))
        self.line((x - 8, base), (x + 8, base), (x, tip), (x - 8, base))
        self.line((x - 8, tip), (x + 8, tip))

    def svg(self) -> str:
        """The whole file."""
        rows = "\n".join(self._rows)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width} {self.height}" width="{self.width}"'
            f' height="{self.height}" font-family="sans-serif">\n{rows}\n</svg>\n'
        )
