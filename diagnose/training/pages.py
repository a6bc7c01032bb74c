"""Pages of headings, paragraphs, lists and tables, as Markdown and as one self-contained HTML file.

Whatever is put in is text: it is escaped here, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from diagnose.casework.handover import escaped


@dataclass(frozen=True, slots=True)
class Block:
    """One piece of a page.

    ``sort`` is ``title``, ``head``, ``text``, ``warn``, ``points``, ``sums`` or ``table``;
    ``lines`` are its text, the points of a list, the lines of a sum; a table has ``rows`` below
    the names in ``lines``.
    """

    sort: str
    lines: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()


def title(text: str) -> Block:
    """The title of a page."""
    return Block("title", (text,))


def head(text: str) -> Block:
    """A heading."""
    return Block("head", (text,))


def text(*sentences: str) -> Block:
    """A paragraph."""
    return Block("text", (" ".join(filter(None, sentences)),))


def warn(sentence: str) -> Block:
    """A paragraph that must not be missed."""
    return Block("warn", (sentence,))


def points(lines: Iterable[str]) -> Block:
    """A list."""
    return Block("points", tuple(lines))


def sums(lines: Iterable[str]) -> Block:
    """Formulas, one a line."""
    return Block("sums", tuple(lines))


def table(names: Sequence[str], rows: Iterable[Sequence[str]]) -> Block:
    """A table."""
    return Block("table", tuple(names), tuple(tuple(row) for row in rows))


# -- Markdown ----------------------------------------------------------------------------------


def markdown(blocks: Iterable[Block]) -> str:
    """The page as Markdown."""
    return "\n\n".join(_MARKDOWN[block.sort](block) for block in blocks) + "\n"


def _md_table(block: Block) -> str:
    lines = [block.lines, tuple("---" for _ in block.lines), *block.rows]
    return "\n".join(f"| {' | '.join(map(_cell, line))} |" for line in lines)


def _cell(word: str) -> str:
    return word if word == "---" else escaped(word)


def _md_sums(block: Block) -> str:
    # A fence shows text as it is; one of more signs than any in the text cannot be closed by it.
    fence = "`" * (3 + max((line.count("`") for line in block.lines), default=0))
    return "\n".join((f"{fence}text", *(" ".join(line.split()) for line in block.lines), fence))


_MARKDOWN = {
    "title": lambda block: f"# {escaped(block.lines[0])}",
    "head": lambda block: f"## {escaped(block.lines[0])}",
    "text": lambda block: escaped(block.lines[0]),
    "warn": lambda block: f"**{escaped(block.lines[0])}**",
    "points": lambda block: "\n".join(f"- {escaped(line)}" for line in block.lines),
    "sums": _md_sums,
    "table": _md_table,
}

# -- HTML ----------------------------------------------------------------------------------------

WHOLE = 16
"""Longest word of a table that is kept on one line, characters."""

PAGE = "<!doctype html>"
"""How each page begins."""

STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; color: #1a1a1a; background: #fff;
  max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
p, ul, pre { max-width: 46rem; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.15rem; border-top: 1px solid #bbb;
  padding-top: .8rem; margin-top: 1.6rem; }
table { border-collapse: collapse; margin: .8rem 0; } th, td { border: 1px solid #bbb;
  padding: .25rem .6rem; text-align: left; vertical-align: top; } th { background: #eee; }
td.n { text-align: right; white-space: nowrap; } td.w { white-space: nowrap; }
pre { background: #f4f4f4; border-left: 3px solid #888; padding: .5rem .8rem;
  white-space: pre-wrap; }
p.warn { border: 2px solid #8a1c00; padding: .4rem .8rem; font-weight: bold; }
div.wide { overflow-x: auto; }
li { margin: .2rem 0; }
@media print { body, p, ul, pre { max-width: none; } body { margin: 0; } h2 { break-after: avoid; }
  tr, pre, p.warn, li { break-inside: avoid; }
  div.wide { overflow-x: visible; font-size: 80%; } }
"""


def html(blocks: Iterable[Block], name: str) -> str:
    """The page as one HTML file that needs nothing else; ``name`` is its title."""
    body = "\n".join(_HTML[block.sort](block) for block in blocks)
    return (
        f'{PAGE}\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(name)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{body}\n"
        "</body>\n</html>\n"
    )


def _html_table(block: Block) -> str:
    names = "".join(f"<th>{escape(word)}</th>" for word in block.lines)
    # The first column names a row, though a trainee may be called by a number.
    named = ((row[0], "".join(map(_html_cell, row[1:]))) for row in block.rows)
    rows = "\n".join(f"<tr><td>{escape(first)}</td>{others}</tr>" for first, others in named)
    # Of a table over two sheets of paper, the heads stand on both.
    heads = f"<thead><tr>{names}</tr></thead>"
    return f'<div class="wide"><table>\n{heads}\n<tbody>\n{rows}\n</tbody></table></div>'


def _html_cell(word: str) -> str:
    """Numbers stand to the right, short words on one line."""
    number = word.removesuffix(" %").replace(".", "", 1).replace("-", "", 1).isdigit()
    # A tag or the name of a file is not broken at its hyphen.
    sort = "n" if number else "w" if " " not in word and len(word) <= WHOLE else ""
    return f'<td class="{sort}">{escape(word)}</td>' if sort else f"<td>{escape(word)}</td>"


_HTML = {
    "title": lambda block: f"<h1>{escape(block.lines[0])}</h1>",
    "head": lambda block: f"<h2>{escape(block.lines[0])}</h2>",
    "text": lambda block: f"<p>{escape(block.lines[0])}</p>",
    "warn": lambda block: f'<p class="warn">{escape(block.lines[0])}</p>',
    "points": lambda block: (
        "<ul>\n" + "\n".join(f"<li>{escape(line)}</li>" for line in block.lines) + "\n</ul>"
    ),
    "sums": lambda block: f"<pre>{escape(chr(10).join(block.lines))}</pre>",
    "table": _html_table,
}
