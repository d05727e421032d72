"""A new build file: every field explained in one line, the must-haves filled in, the rest as remarks."""

from __future__ import annotations

from typing import Final

from boostwright.build.catalogue import Ask, Catalogue, Field, FieldType, Section, catalogue
from boostwright.build.explain import default_text
from boostwright.build.limits import example_line, usual_text, value_text
from boostwright.errors import UnknownField
from boostwright.quantity import nearest

__all__ = ["new_build"]

_HEAD: Final = """\
# A build file. Change the lines without a # first; then take the # away from what you know.
#
# Numbers carry their unit: "0.6 bar", "8.7 psi", "440 cc/min", "25 degC". Comma and point both read.
# "440 +/- 15 cc/min" says how sure you are: the truth lies inside 19 times out of 20.
# source = "measured", "maker" or "handbook" says where the numbers of a section come from. For one value:
#   bore = { value = "81.02 +/- 0.02 mm", source = "measured", with = "bore gauge", note = "head was off" }
# A pressure is counted as its line says; "bara", "barg", "psia" and "psig" read too.
# What you leave out gets the usual value of its engine class, with a wide spread, and is listed as assumed.
"""

_TITLES: Final = {
    Ask.MUST: "",
    Ask.SHOULD: "# -- moves a verdict: an evening's work",
    Ask.MAY: "# -- the default does for now",
}
_LATER: Final = """
# ==================================================================
# From here on nothing is used by `check` yet. Fill it in when you have the part in hand.
# ==================================================================
"""


def new_build(engine_class: str = "four-valve", name: str = "My build") -> str:
    """The text of a new build file for an engine class; it passes as it is.

    The must-haves hold example figures to be replaced. Raises UnknownField when there is no such class.
    """
    known = catalogue()
    if engine_class not in known.classes:
        near = nearest(engine_class, known.classes) or tuple(known.classes)
        raise UnknownField(f"There is no engine class '{engine_class}'. Nearest: {', '.join(near)}.")
    now = [section for section in known.sections.values() if _used(section)]
    later = [section for section in known.sections.values() if not _used(section)]
    parts = [_HEAD]
    parts += [_section(known, section, engine_class, name) for section in now]
    parts.append(_LATER)
    parts += [_section(known, section, engine_class, name) for section in later]
    return "\n".join(parts)


def _used(section: Section) -> bool:
    return section.required or any("check" in field.used_by for field in section.fields) or section.part <= 1


def _section(known: Catalogue, section: Section, engine_class: str, name: str) -> str:
    lines = [f"# {section.words}. {section.about}"]
    live = not section.many  # a list of tables would be one empty table
    header = f"[[{section.name}]]" if section.many else f"[{section.name}]"
    lines.append(header if live else f"#{header}")
    numbers = any(f.type is FieldType.QUANTITY and not f.chosen for f in section.fields)
    if numbers:
        lines.append('source = "handbook"' if live else '#source = "handbook"')
    for ask in Ask:
        fields = [field for field in section.fields if _group(field) is ask]
        if fields and _TITLES[ask] and any(_group(field) is not ask for field in section.fields):
            lines.append(_TITLES[ask])
        for field in fields:
            lines.append(_comment(known, field, engine_class))
            line = _line(known, field, engine_class, name)
            lines.append(line if section.required and _live(field) else f"#{line}")
    return "\n".join(lines) + "\n"


def _group(field: Field) -> Ask:
    return Ask.MUST if field.path == "engine.class" else field.ask


def _live(field: Field) -> bool:
    return _group(field) is Ask.MUST


def _line(known: Catalogue, field: Field, engine_class: str, name: str) -> str:
    if field.path == "engine.class":
        return f'class = "{engine_class}"'
    if field.path == "build.name":
        return f'name = "{name}"'
    default = known.default(field.path, engine_class)
    own = known.classes[engine_class].defaults.get(field.path)
    if (
        own is not None
        and default is not None
        and default.value is not None
        and not isinstance(default.value, bool)
    ):
        if isinstance(default.value, str):
            return f'{field.name} = "{default.value}"'
        text = value_text(field, float(default.value))
        return f"{field.name} = {text}" if field.whole else f'{field.name} = "{text}"'
    return example_line(field)


def _comment(known: Catalogue, field: Field, engine_class: str) -> str:
    said = [field.words]
    if field.kind is not None and field.kind.value != "difference":
        said[0] += f" ({field.kind.value})"
    if field.type is FieldType.CHOICE:
        said.append("one of: " + ", ".join(field.choices))
    kind = f" {field.kind.value}" if field.kind is not None else ""
    usual = usual_text(field).replace(kind, "") if kind else usual_text(field)
    if usual:
        said.append(f"usual {usual}")
    default = known.default(field.path, engine_class)
    if default is not None and field.ask is not Ask.MUST:
        text = default_text(field, default).partition(" (")[0]
        said.append(f"left out: {text.replace(kind, '') if kind else text}")
    return f"# {'; '.join(said)}"
