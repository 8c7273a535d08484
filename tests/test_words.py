"""The words of the code: short introductions, functions explained, units stated, one name per quantity."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent
ROOMS = ("fem", "geometry", "materials", "studies", "validation")
PHYSICAL_ROOMS = ("fem", "geometry", "materials")
LONGEST_DOCSTRING = 20
DOCUMENTED, WITH_UNIT = 0.95, 0.60
# Strings of the code that still say a banned word, by module: entries go away, none comes.
STILL_SAID: dict[str, list[str]] = {}
# What nobody says -> the name that the table of words in the README gives it.
BANNED = {
    r"\btravels?\b": "movement of the load point",
    r"\bmovements? along the rope\b": "movement of the load point",
    r"\bdisplacements? of the load point\b": "movement of the load point",
    r"\bpull's point\b": "load point",
    r"\bhole's walls?\b": "wall of the hole",
    r"\b(ice walls?|walls? of (the )?ice)\b": "ice in front of the tube",
    r"\bcrack (edge|rim|border)s?\b": "crack front",
    r"\bfracture resistance\b": "fracture toughness",
    r"\b(critical energy release rate|work of fracture)\b": "fracture energy",
    r"\b(maximum|ultimate|failure|breaking) (load|pull)s?\b": "peak",
    r"\b(damage initiation|initiation load|first-crack load)\b": "onset",
    r"\b(embedment|insertion|placement|driven) depths?\b": "embedment",
    r"\b(placement|tube) inclination\b": "angle",
    r"\bice screws?\b": "tube",
    r"\btie-offs?\b": "tied off",
    r"\b(threads? strip-?out|thread stripping|stripped thread)\b": "threads stripped",
    r"\b(pull-?out|break-?out) cones?\b": "cone",
    r"\bsurface (layer|skin) of (soft|weak) ice\b": "crust",
    r"\bwebbing\b": "sling",
}
_NAME = r"(?:[kMG]?Pa|k?N|k?J|kg|mm|m|rad|deg|K|s|1)"
_PRODUCT = rf"{_NAME}(?:\^?-?[\d.]+)?(?:(?: |/| per ){_NAME}(?:\^?-?[\d.]+)?)*"
UNIT = re.compile(
    rf"\[(?:{_PRODUCT}|-)(?:[,;: ][^\]]*)?\]"  # K [Pa m^0.5], angle [rad, from the normal], ratio [-], row [N, N m]
    rf"|(?::|\bin) (?!1\b){_PRODUCT}(?=[\s,;.)]|$)"  # length : m, from the mouth; lengths in m
    r"|\((?:[kMG]?Pa|deg C|rad|mm|kg)[\s,;/)]"  # (Pa, m); a lone letter may be an index
    r"|\b[Dd]imensionless\b|\bSI\b|\bin (?:the |their )?(?:same )?units?\b|\bunit of\b|\b[Uu]nit vectors?\b",
    flags=re.MULTILINE,
)
Function = tuple[str, ast.FunctionDef, str]  # name, node, docstring of its class


def modules(rooms: tuple[str, ...]) -> list[Path]:
    return sorted(path for room in rooms for path in (TOP / room).rglob("*.py"))


def public_functions(tree: ast.Module, path: Path) -> Iterator[Function]:
    """Functions of a module and methods of its classes; those that begin with _ are private, as is all in them."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield f"{path.relative_to(TOP)}:{node.name}", node, ""
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for method in node.body:
                if isinstance(method, ast.FunctionDef) and not method.name.startswith("_"):
                    yield f"{path.relative_to(TOP)}:{node.name}.{method.name}", method, ast.get_docstring(node) or ""


def functions(rooms: tuple[str, ...]) -> list[Function]:
    return [found for path in modules(rooms) for found in public_functions(ast.parse(path.read_text("utf-8")), path)]


def is_physical(node: ast.FunctionDef) -> bool:
    """Numbers go in or come out."""
    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    annotations = [argument.annotation for argument in arguments] + [node.returns]
    return any(re.search(r"\b(float|Array|NDArray|ndarray)\b", ast.unparse(one)) for one in annotations if one)


def states_a_unit(function: Function) -> bool:
    _, node, of_class = function
    return bool(UNIT.search(ast.get_docstring(node) or "") or UNIT.search(of_class))


def spoken(tree: ast.Module) -> Iterator[str]:
    """Every docstring and every string of the code; the fixed parts of an f-string are joined by "…"."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
            yield ast.get_docstring(node) or ""
    inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    quiet = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)} | inside
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(part.value if isinstance(part, ast.Constant) else "…" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in quiet:
            yield node.value


def banned_in(text: str) -> list[str]:
    """What a text says that it must not, each with the word to use."""
    plain = re.sub(r"\s+", " ", text)
    hits = ((hit.group(0), word) for pattern, word in BANNED.items() for hit in re.finditer(pattern, plain, re.I))
    return [f"{said!r}: say {word!r}" for said, word in hits]


@pytest.mark.parametrize("path", modules(ROOMS), ids=lambda path: str(path.relative_to(TOP)))
def test_a_module_is_introduced_in_twenty_lines(path: Path) -> None:
    introduction = ast.get_docstring(ast.parse(path.read_text("utf-8"))) or ""
    assert len(introduction.splitlines()) <= LONGEST_DOCSTRING


def test_public_functions_are_explained() -> None:
    found = functions(ROOMS)
    bare = [name for name, node, _ in found if not ast.get_docstring(node)]
    assert len(found) > 300
    assert 1 - len(bare) / len(found) >= DOCUMENTED, bare


def test_physical_functions_state_units() -> None:
    found = [function for function in functions(PHYSICAL_ROOMS) if is_physical(function[1])]
    without = [function[0] for function in found if not states_a_unit(function)]
    assert len(found) > 150
    assert 1 - len(without) / len(found) >= WITH_UNIT, without


@pytest.mark.parametrize(
    ("text", "has_one"),
    [
        ("Peak lateral load [N].", True),
        ("K_I of the front [Pa m^0.5]; angle [rad, from the axis]", True),
        ("length : m, along the axis", True),
        ("Force [N per m]; moment", True),
        ("Stiffness in the ratio of E [-].", True),
        ("A share, dimensionless.", True),
        ("Lengths in m, forces in N.", True),
        ("A section of one metal (SI units).", True),
        ("Rows of the matrix [i, j] or [n] of a mesh: nodes, in order", False),
        ("Points (m,) of a mesh of shape (n, m), the first of (0, 0, 1).", False),
    ],
)
def test_what_counts_as_a_unit(text: str, has_one: bool) -> None:
    """Brackets, a colon with a unit, or words; an index or a letter is none."""
    assert bool(UNIT.search(text)) == has_one


@pytest.mark.parametrize("path", modules(ROOMS), ids=lambda path: str(path.relative_to(TOP)))
def test_code_uses_the_names_of_the_table_of_words(path: Path) -> None:
    still = STILL_SAID.get(str(path.relative_to(TOP)), [])
    said = [text for text in spoken(ast.parse(path.read_text("utf-8"))) if banned_in(text)]
    assert [hit for text in said if text not in still for hit in banned_in(text)] == []
    assert set(still) <= set(said), "take what is no longer said out of STILL_SAID"


PAGES = sorted({TOP / "README.md", *(page for room in ROOMS for page in (TOP / room).rglob("*.md"))})


@pytest.mark.parametrize("page", PAGES, ids=lambda path: str(path.relative_to(TOP)))
def test_pages_use_the_names_of_the_table_of_words(page: Path) -> None:
    assert banned_in(page.read_text("utf-8")) == []


def test_a_banned_word_is_found_across_lines_and_in_code() -> None:
    tree = ast.parse('"""Wall of\nice."""\nraise ValueError(f"the hole\'s wall at {1}: crack edge")')
    assert len([hit for text in spoken(tree) for hit in banned_in(text)]) == 3
