"""Mutants of C++ text, by operators on its tokens. Comments, strings and includes are left alone,
and consteval functions: they are checks at compile time, and a weakened check that held before
cannot be noticed."""
import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Mutant:
    file: str
    operator: str
    line: int     # 1-based, where it begins
    key: str      # names it wherever its line moves to: "operator: code -> code", "#2" for a second
    text: str     # the whole mutated file


@dataclass(frozen=True)
class Change:
    operator: str
    start: int
    end: int
    new: str


def blanked(text):
    """The text with what is left alone made blank, of the same length."""
    pattern = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|^#[^\n]*|^consteval .*?^}',
                         re.S | re.M)
    return pattern.sub(lambda m: re.sub(r"[^\n]", " ", m.group()), text)


SWAPS = [
    ("relation", r"==", ["!="]),
    ("relation", r"!=", ["=="]),
    ("boundary", r"(?<= )<=(?= )", ["<", ">="]),
    ("boundary", r"(?<= )>=(?= )", [">", "<="]),
    ("boundary", r"(?<= )<(?= )", ["<=", ">"]),
    ("boundary", r"(?<= )>(?= )", [">=", "<"]),
    ("logic", r"&&", ["||"]),
    ("logic", r"(?<= )\|\|(?= )", ["&&"]),
    ("assignment", r"\|=", ["=", "&="]),
    ("negation dropped", r"!(?=[A-Za-z(])", [""]),
    ("literal", r"\btrue\b", ["false"]),
    ("literal", r"\bfalse\b", ["true"]),
    ("level", r"\bkStopped\b", ["kRunning"]),
    ("level", r"\bkRunning\b", ["kStopped"]),
    ("minimum", r"\bstd::min\b", ["std::max"]),
    ("maximum", r"\bstd::max\b", ["std::min"]),
    ("jump", r"\bcontinue;", ["break;", ";"]),
]


def swaps(code):
    for operator, pattern, news in SWAPS:
        for m in re.finditer(pattern, code):
            for new in news:
                yield Change(operator, m.start(), m.end(), new)


def constants(code):
    for m in re.finditer(r"(?<![\w.])\d+(?![\w.])", code):
        for step in (1, -1):
            yield Change("constant", m.start(), m.end(), str(int(m.group()) + step))


def enum_members(code, enums):
    """Each value of an enum becomes every other one of it."""
    for name, members in enums.items():
        for m in re.finditer(rf"\b{name}::(\w+)", code):
            for other in members:
                if other != m.group(1):
                    yield Change("enum", m.start(1), m.end(1), other)


def sets(code):
    """Each use of a named set of latches becomes every other set of the file."""
    names = re.findall(r"constexpr unsigned (k\w+) =", code)
    for name in names:
        for m in re.finditer(rf"(?<!unsigned )\b{name}\b", code):
            for other in names:
                if other != name:
                    yield Change("set", m.start(), m.end(), other)


def other_words(code, enum):
    """Each of an enum with many values becomes the next one that the code uses."""
    found = list(re.finditer(rf"\b{enum}::(\w+)", code))
    used = list(dict.fromkeys(m.group(1) for m in found))
    for m in found:
        other = used[(used.index(m.group(1)) + 1) % len(used)]
        yield Change("word", m.start(1), m.end(1), other)


def closing(code, start):
    """The index after the bracket that closes the one at `start`."""
    pairs = {"(": ")", "{": "}", "[": "]"}
    depth, opener = 0, code[start]
    for at in range(start, len(code)):
        depth += (code[at] == opener) - (code[at] == pairs[opener])
        if depth == 0:
            return at + 1
    raise ValueError("a bracket is not closed")


def conditions(code):
    """The condition of each if, and each returned bool, is turned round."""
    for m in re.finditer(r"\bif \(", code):
        end = closing(code, m.end() - 1)
        yield Change("condition", m.end() - 1, end, "(!" + code[m.end() - 1:end] + ")")
        yield Change("condition", m.end() - 1, end, "(false)")
    for m in re.finditer(r"\breturn ([^;{]*(?:==|&&|\|\||in\.\w+)[^;{]*);", code):
        if "?" not in m.group(1) and "because(" not in m.group(1):
            yield Change("condition", m.start(1), m.end(1), "!(" + m.group(1) + ")")


def choices(code):
    """The two values of a ?: change places."""
    for m in re.finditer(r"\? ([^?:;]+(?:\([^;]*?\))?)\s*: ([^;]+);", code):
        yield Change("choice", m.start(1), m.end(2), f"{m.group(2)} : {m.group(1)}")


def statements(code):
    """A statement that does something is left out, and so is a row of a table."""
    for m in re.finditer(r"(?<=[;{})\n])[ \n]*((?:verdict|state|strongest|out|set|apply_\w+)\b"
                         r"[^;{}]*?(?:=|\()[^;]*;)", code):
        yield Change("statement deleted", m.start(1), m.end(1), ";")
    for m in re.finditer(r"\breturn;", code):
        yield Change("statement deleted", m.start(), m.end(), ";")
    for m in re.finditer(r"^ +if \([^;{]*\) return[^;]*;", code, re.M):
        yield Change("statement deleted", m.start(), m.end(), "")
    for m in re.finditer(r"^ +(?:Rule)?(?=\{)", code, re.M):
        end = closing(code, m.end())
        if code[end:end + 1] == ",":
            yield Change("row deleted", m.start(), end + 1, "")


def squeezed(text):
    return re.sub(r"\s+", " ", text).strip()


def key_of(code, change):
    """What is changed, with as much of the code around it as a reader needs to find it."""
    begin = max(code.rfind(";", 0, change.start), code.rfind("\n\n", 0, change.start)) + 1
    if "},\n" in code[:change.start]:
        begin = max(begin, code.rfind("},\n", 0, change.start) + 3)
    end = code.find("\n", change.end)
    before, after = squeezed(code[begin:change.start]), squeezed(code[change.end:end])
    old, new = squeezed(code[change.start:change.end]), squeezed(change.new)
    return squeezed(f"{change.operator}: {before} [{old} -> {new}] {after}")


def only(code, parts):
    """The code with all but what the pattern finds made blank, of the same length."""
    kept, at = "", 0
    for m in re.finditer(parts, code, re.S | re.M):
        kept += re.sub(r"[^\n]", " ", code[at:m.start()]) + m.group()
        at = m.end()
    return kept + re.sub(r"[^\n]", " ", code[at:])


def mutants(file, text, parts, enums, words):
    """`parts`: pattern of what is mutated; `enums`: name -> values; of `words`, enums too, only the
    next value is tried."""
    code = only(blanked(text), parts)
    changes = [change for make in (swaps, constants, sets, conditions, choices, statements)
               for change in make(code)] + list(enum_members(code, enums))
    changes += [change for word in words for change in other_words(code, word)]
    changes.sort(key=lambda c: (c.start, c.end, c.operator, c.new))
    seen_texts, counts, made = {text}, {}, []
    for change in changes:
        mutated = text[:change.start] + change.new + text[change.end:]
        if mutated in seen_texts:
            continue
        seen_texts.add(mutated)
        key = key_of(code, change)
        counts[key] = counts.get(key, 0) + 1
        if counts[key] > 1:
            key += f" #{counts[key]}"
        line = text.count("\n", 0, change.start) + 1
        made.append(Mutant(file, change.operator, line, key, mutated))
    return made
