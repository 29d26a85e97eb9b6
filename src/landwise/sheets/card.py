"""The comparison card: the candidates in one row at one scale, five figures and a verdict under each."""

from __future__ import annotations

from collections.abc import Sequence

from landwise.errors import InputError
from landwise.sheets.cardlayout import (
    A3,
    A4,
    FIGURE_LINES,
    FIGURES,
    GOOD_SCALE,
    GUTTER,
    LABEL_SHARES,
    LEAST_COLUMN,
    MARGIN,
    MOST_ON_A4,
    MOST_SHOWN,
    RULE_ZONE,
    SCALES,
    SENTENCE_LINES,
    Candidate,
    Card,
    Views,
    at_most,
    ranked_first,
)
from landwise.sheets.cardtext import Block, Row, Words, against_row, capital
from landwise.sheets.lettering import line_mm, width_mm, wrapped
from landwise.sheets.look import (
    HEAD,
    HEAVY,
    LIGHT,
    MM_PER_PT,
    NARROW,
    SMALL,
    TEXT,
    TITLE,
    WIDE,
    Stroke,
    Theme,
)
from landwise.sheets.marks import mm_rule, scale_text, verdict_width, verdict_word
from landwise.sheets.plan import PART, top_view
from landwise.sheets.profile import SideView
from landwise.sheets.svg import Mark, Picture, Text, joined, line, write_svg


def comparison_card(
    title: str,
    question: str,
    candidates: Sequence[Candidate],
    choice_sentence: str,
    runner_up_sentence: str,
    footer: str,
    *,
    prefix: str = "card",
    theme: Theme = LIGHT,
) -> str:
    """The card as SVG on A4 or A3 landscape, true to the scale it states.

    Parameters
    ----------
    title : str
        Function and terminals.
    question : str
    candidates : sequence of Candidate
        Best first; at most nine are drawn, the choice and the part in use always among them.
    choice_sentence, runner_up_sentence : str
        Why the choice wins; by how much the runner-up lost.
    footer : str
        Assumptions that matter, date of data, version.
    """
    card = lay_out(title, question, candidates, choice_sentence, runner_up_sentence, footer)
    names = ", ".join(f"{one.title} ({one.verdict}{', the choice' if one.is_choice else ''})" for one in card.shown)
    return write_svg(
        card.picture,
        (0.0, 0.0, *card.size_mm),
        title=title,
        description=f"{question} Candidates drawn {scale_text(card.magnification)}: {names}. {choice_sentence}",
        prefix=prefix,
        theme=theme,
    )


def lay_out(
    title: str,
    question: str,
    candidates: Sequence[Candidate],
    choice_sentence: str,
    runner_up_sentence: str,
    footer: str,
) -> Card:
    """Find the paper, the scale and the number of candidates that fit, and place everything.

    Raises
    ------
    InputError
        Without candidates, with differing figure titles, or if one candidate alone fits on no paper.
    """
    if not candidates:
        raise InputError("a card needs candidates", found="none", expected="at least one")
    titles = [tuple(name for name, _, _ in one.figures) for one in candidates]
    if len(set(titles)) > 1:
        raise InputError(
            "candidates of one card need the same figures",
            found=" / ".join(", ".join(one) for one in dict.fromkeys(titles)),
        )
    words = Words(title, question, choice_sentence, runner_up_sentence, footer)
    for count in range(min(len(candidates), MOST_SHOWN), 0, -1):
        shown = ranked_first(candidates, count)
        left_out = len(candidates) - len(shown)
        views = Views(shown)
        best: tuple[float, _Sheet] | None = None
        for paper in (A4, A3) if count <= MOST_ON_A4 else (A3,):
            for share in LABEL_SHARES:
                sheet = _Sheet(words, views, left_out, paper, share)
                magnification = sheet.largest_scale()
                if magnification is not None and (best is None or magnification > best[0]):
                    best = magnification, sheet
            if best is not None and best[0] >= GOOD_SCALE:
                break
        if best is not None:
            magnification, sheet = best
            size = sheet.width, sheet.height
            return Card(sheet.picture(magnification), size, magnification, tuple(shown), left_out)
    raise InputError(
        "the candidate fits on no sheet", found=candidates[0].title, expected="shorter texts or a smaller part"
    )


class _Sheet:
    """One attempt: these candidates on this paper."""

    def __init__(
        self,
        words: Words,
        views: Views,
        left_out: int,
        paper: tuple[float, float],
        label_share: float,
    ) -> None:
        self.words, self.views, self.shown, self.left_out = words, views, views.shown, left_out
        self.width, self.height = paper
        self.inner = self.width - 2 * MARGIN
        self.label = label_share * self.inner
        # The outermost room for columns: what stands right of the labels.
        self.room = self.inner - self.label

    # Scale and columns.

    def largest_scale(self) -> float | None:
        """The largest magnification at which the drawings and all texts fit, or None."""
        tall = max(one.pattern.courtyard_mm[1] for one in self.shown)
        for magnification in SCALES:
            columns = self._columns(magnification)
            if columns is None or tall * magnification > self.height:
                continue
            room = self.height - 2 * MARGIN
            texts = self._table_height(columns) + self._foot_height()
            if self._above(magnification) + RULE_ZONE + 4.0 + texts > room:
                continue  # the texts alone leave no room, whatever the side views take
            above, below, _ = self._heights(columns, magnification)
            if above + below <= room:
                return magnification
        return None

    def _columns(self, magnification: float) -> list[float] | None:
        """Widths of the columns: drawings first, what is left shared out evenly."""
        least = max(LEAST_COLUMN, self._longest_word())
        needs = [max(least, one.pattern.courtyard_mm[0] * magnification) + GUTTER for one in self.shown]
        spare = self.room - sum(needs)
        if spare < -1e-9:
            return None
        return [need + spare / len(needs) for need in needs]

    def _longest_word(self) -> float:
        """Width that keeps names whole and values unbroken, as far as the sheet allows. [mm]"""
        words = [word for one in self.shown for _, text, _ in one.figures for word in text.split(" ")]
        longest = max(width_mm(word, SMALL) for word in words)
        longest = max(longest, *(width_mm(one.title, TEXT, "bold") + 0.2 for one in self.shown))
        return min(longest, self.room / len(self.shown) - GUTTER)

    # Heights.

    def _heights(self, columns: Sequence[float], m: float) -> tuple[float, float, list[SideView]]:
        """From the top margin to the ground line, and from there to the bottom margin. [mm]"""
        sides = self.views.at(m)
        side = max(-view.picture.box[1] for view in sides) + max(view.picture.box[3] for view in sides)
        below = RULE_ZONE + side + 4.0 + self._table_height(columns) + self._foot_height()
        return self._above(m), below, sides

    def _above(self, m: float) -> float:
        highest = max(one.pattern.courtyard_mm[1] for one in self.shown) * m
        return self._head_height() + highest + 2.0

    def _head(self) -> list[Block]:
        return [
            Block(wrapped(capital(self.words.title), self.inner, TITLE, "bold")[:2], TITLE, "ink", "bold"),
            Block(wrapped(self.words.question, self.inner, TEXT)[:2], TEXT, "graphite"),
        ]

    def _head_height(self) -> float:
        return sum(block.height for block in self._head()) + 4.0

    def _foot(self) -> list[tuple[str, Block]]:
        """Bold leading word and text of the closing sentences, then the footer."""
        indent = max(width_mm(word, TEXT, "bold") for word in ("Choice", "Runner-up")) + 4.0
        wide = self.inner - indent
        blocks = []
        for word, sentence in (("Choice", self.words.choice), ("Runner-up", self.words.runner_up)):
            if sentence:
                blocks.append((word, Block(wrapped(sentence, wide, TEXT), TEXT)))
        return blocks

    def _footer(self, m: float) -> Block:
        parts = [f"Drawn {scale_text(m)}; printed without scaling, the rule measures right."]
        if any(one.solder is None for one in self.shown):
            parts.append("Solder in the side views is schematic, not to scale.")
        if self.left_out:
            more = "candidate is" if self.left_out == 1 else "candidates are"
            parts.append(f"{self.left_out} more {more} in the report.")
        parts.append(self.words.footer)
        return Block(wrapped(" ".join(part for part in parts if part), self.inner, SMALL), SMALL, "graphite")

    def _foot_height(self) -> float:
        return sum(block.height + 1.0 for _, block in self._foot()) + 5.0 + self._footer(1.5).height

    # The table.

    def _wide(self, columns: Sequence[float]) -> list[float]:
        return [column - GUTTER for column in columns]

    def _names(self, columns: Sequence[float]) -> list[Block]:
        """Names in the larger size where each fits its column in one line."""
        wide = self._wide(columns)
        pairs = list(zip(self.shown, wide, strict=True))
        size = HEAD if all(width_mm(one.title, HEAD, "bold") <= w for one, w in pairs) else TEXT
        return [Block(at_most(one.title, w, 2, size, "bold"), size, "ink", "bold") for one, w in pairs]

    def _tags(self, columns: Sequence[float]) -> list[tuple[Block, Block, float]]:
        """What a candidate is, its area, and how far the area is set off to the right of it (0: below)."""
        found = []
        for one, wide in zip(self.shown, self._wide(columns), strict=True):
            tag = ", ".join(word for word, is_so in (("choice", one.is_choice), ("in use", one.is_present)) if is_so)
            set_off = width_mm(tag, SMALL, "bold") + 2.0 if tag else 0.0
            beside = not tag or set_off + width_mm(one.area_text, SMALL) <= wide
            area = Block(wrapped(one.area_text, wide, SMALL), SMALL, "graphite")
            found.append((Block((tag,) if tag else (), SMALL, "ink", "bold"), area, set_off if beside else 0.0))
        return found

    @staticmethod
    def _tag_height(tag: Block, area: Block, set_off: float) -> float:
        return max(tag.height, area.height) if set_off else tag.height + area.height

    def _verdict_room(self) -> float:
        """Room for shape and word, so that the values of a column line up. [mm]"""
        return max(verdict_width(word) for one in self.shown for _, _, word in one.figures if word) + 2.0

    def _one_line(self, columns: Sequence[float]) -> bool:
        """Whether verdict and value stand side by side in every cell."""
        lead = self._verdict_room()
        return all(
            lead + width_mm(text, SMALL) <= wide
            for one, wide in zip(self.shown, self._wide(columns), strict=True)
            for _, text, _ in one.figures
        )

    def _figure_rows(self, columns: Sequence[float]) -> list[tuple[Block, list[Block], float]]:
        """Label, cells and height of each figure."""
        side_by_side = self._one_line(columns)
        rows = []
        for number in range(FIGURES):
            label = Block(
                wrapped(capital(self.shown[0].figures[number][0]), self.label - GUTTER, SMALL), SMALL, "graphite"
            )
            cells = [
                Block(at_most(one.figures[number][1], wide, FIGURE_LINES), SMALL)
                for one, wide in zip(self.shown, self._wide(columns), strict=True)
            ]
            high = max(cell.height for cell in cells) + (0.0 if side_by_side else line_mm(SMALL))
            rows.append((label, cells, max(high, label.height) + 1.3))
        return rows

    def _against(self, columns: Sequence[float]) -> Row | None:
        return against_row(self.shown, self._wide(columns), self.label - GUTTER)

    def _whys(self, columns: Sequence[float]) -> list[Block]:
        return [
            Block(at_most(capital(one.why), wide, SENTENCE_LINES), SMALL, "graphite")
            for one, wide in zip(self.shown, self._wide(columns), strict=True)
        ]

    def _table_height(self, columns: Sequence[float]) -> float:
        names = max(block.height for block in self._names(columns))
        tags = max(self._tag_height(*tag) for tag in self._tags(columns))
        figures = sum(high for _, _, high in self._figure_rows(columns))
        against = self._against(columns)
        figures += against.height if against else 0.0
        whys = max(block.height for block in self._whys(columns))
        return names + tags + 2.5 + figures + 2.0 + line_mm(TEXT) + whys

    # Drawing.

    def picture(self, m: float) -> Picture:
        """Everything in its place."""
        columns = self._columns(m)
        assert columns is not None
        above, below, sides = self._heights(columns, m)
        # Air that is left over goes above the drawings and between them and the table.
        air = self.height - 2 * MARGIN - above - below
        marks: list[Mark] = []
        y = MARGIN
        for block in self._head():
            marks += block.at(MARGIN, y)
            y += block.height
        ground = MARGIN + above + 0.4 * air
        starts = [MARGIN + self.label + sum(columns[:n]) for n in range(len(columns))]
        middles = [start + (wide - GUTTER) / 2 for start, wide in zip(starts, columns, strict=True)]
        pictures = [Picture(tuple(marks)), self._ground(ground, starts, columns, m)]
        zero = ground + RULE_ZONE + max(-view.picture.box[1] for view in sides)
        for one, view, middle in zip(self.shown, sides, middles, strict=True):
            top = top_view(one.outline, one.pattern, one.print_, magnification=m, layers=PART)
            half = one.pattern.courtyard_mm[1] / 2 * m
            pictures.append(top.moved(middle, ground - HEAVY / 2 - 0.5 - half))
            pictures.append(view.picture.moved(middle, zero))
        table = zero + max(view.picture.box[3] for view in sides) + 4.0 + 0.25 * air
        pictures.append(self._table(table, starts, columns))
        pictures.append(self._closing(m))
        return joined(pictures)

    def _ground(self, y: float, starts: Sequence[float], columns: Sequence[float], m: float) -> Picture:
        left = starts[0]
        whole = int(self.room / m + 1e-9)
        rule = mm_rule(whole, m).moved(left, y)
        marks: list[Mark] = [line([(left, y), (left + whole * m, y)], Stroke("ink", WIDE))]
        for one, start, wide in zip(self.shown, starts, columns, strict=True):
            if one.is_choice:
                marks.append(line([(start, y), (start + wide - GUTTER, y)], Stroke("ink", HEAVY)))
        base = y + 3.0 + SMALL * MM_PER_PT
        marks.append(Text(MARGIN, base - line_mm(SMALL), f"Drawn {scale_text(m)}", SMALL, "ink", "bold"))
        marks.append(Text(MARGIN, base, "mm of the part", SMALL, "graphite"))
        return Picture((*rule.marks, *marks))

    def _table(self, y: float, starts: Sequence[float], columns: Sequence[float]) -> Picture:
        marks: list[Mark] = []
        pictures: list[Picture] = []
        names, tags = self._names(columns), self._tags(columns)
        high = max(block.height for block in names)
        for block, (tag, area, set_off), start in zip(names, tags, starts, strict=True):
            marks += block.at(start, y + high - block.height)
            marks += tag.at(start, y + high)
            marks += area.at(start + set_off, y + high + (0.0 if set_off else tag.height))
        y += high + max(self._tag_height(*tag) for tag in tags) + 1.0
        right = MARGIN + self.inner
        marks.append(line([(MARGIN, y), (right, y)], Stroke("ink", NARROW)))
        y += 1.5
        side_by_side = self._one_line(columns)
        for number, (label, cells, high) in enumerate(self._figure_rows(columns)):
            if number:
                marks.append(line([(MARGIN, y), (right, y)], Stroke("grid", NARROW)))
            marks += label.at(MARGIN, y + 0.6)
            for one, cell, start in zip(self.shown, cells, starts, strict=True):
                verdict = one.figures[number][2]
                base = Block(("x",), SMALL).at(start, y + 0.6)[0]
                assert isinstance(base, Text)
                if verdict:
                    pictures.append(verdict_word(verdict, start, base.y))
                if side_by_side:
                    marks += cell.at(start + self._verdict_room(), y + 0.6)
                else:
                    marks += cell.at(start, y + 0.6 + line_mm(SMALL))
            y += high
        if against := self._against(columns):
            marks.append(line([(MARGIN, y), (right, y)], Stroke("grid", NARROW)))
            marks += against.at(MARGIN, starts, y + 0.6)
            y += against.height
        marks.append(line([(MARGIN, y + 0.2), (right, y + 0.2)], Stroke("ink", NARROW)))
        y += 1.7
        marks += Block(("Verdict",), TEXT, "ink", "bold").at(MARGIN, y)
        for one, why, start in zip(self.shown, self._whys(columns), starts, strict=True):
            base = Block(("x",), TEXT).at(start, y)[0]
            assert isinstance(base, Text)
            pictures.append(verdict_word(one.verdict, start, base.y, TEXT))
            marks += why.at(start, y + line_mm(TEXT))
        return Picture(tuple(marks)) + joined(pictures)

    def _closing(self, m: float) -> Picture:
        footer = self._footer(m)
        y = self.height - MARGIN - footer.height
        marks = footer.at(MARGIN, y)
        foot = self._foot()
        y -= sum(block.height + 1.0 for _, block in foot) + 2.0
        indent = max(width_mm(word, TEXT, "bold") for word in ("Choice", "Runner-up")) + 4.0
        for word, block in foot:
            marks += Block((word,), TEXT, "ink", "bold").at(MARGIN, y)
            marks += block.at(MARGIN + indent, y)
            y += block.height + 1.0
        return Picture(tuple(marks))
