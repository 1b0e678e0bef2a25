"""Hypothesis strategies for what is not as it should be: files of any bytes, sound files with something done to them,
odd values, arguments of any kind."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

from hypothesis import strategies as st

import oscsim
from oscsim.designs import bundled_readings_text

from ..movements import HEAVY

#: Values that a number's place, a cell or an option may be given instead of a number.
ODD = (
    "nan", "inf", "-inf", "1e400", "-1e400", "1e-400", "-0.0", "0", "-1", "1e308", "0x10", "0b1", "1_000", "1__0",
    "+5", ".5", "5.", "1e5", "true", "false", "none", "None", "null", '"12"', "'x'", "[]", "[1.0]", "[[1],[2]]", "{}",
    "{a = 1}", "2026-03-01", "07:32:00", "\u0661\u0662", "\uff15", "½", "−3", "1,5", "1 5", "9" * 5000,
    "0." + "0" * 5000 + "1", "", " ", "\t", "\x00", "\x1b[31m", "\u202e", "\u2028", "\ud7ff", '"', "'", '"""', "#", "=",
    "%s", "{0}", "$HOME", "`id`", "__import__('os')", "!!python/object", "=1+1", "\\u0041", "../../etc", "CON", "-",
    "--", "-5", "CH", "12H", "dial up",
)  # fmt: skip

SPRINGS = """\
name,height_mm,thickness_mm,length_mm,modulus_gpa,elastic_limit_mpa,free_curvature_per_m,slip_torque_n_mm
first,1.3,0.105,380,200,2000,,
"second, long",1.25,0.1,420,,,,9
"""
OWN_GROUPS = {
    "spring": ["mainspring", "barrel"],
    "lock and lift": ["escapement"],
    "the rest": ["train", "balance", "hairspring", "index_pins", "winding"],
}
GROUPS = "".join(f"{json.dumps(group)} = {json.dumps(names)}\n" for group, names in OWN_GROUPS.items())
READINGS_TOML = """\
lift_angle_deg = 50
[[reading]]
position = "CH"
hours = 0
amplitude_deg = 252
rate_s_per_day = 4.5
[[reading]]
position = "12H"
hours = 0.5
amplitude_deg = 231.5
beat_error_ms = 0.2
temperature_c = 21
"""
#: A file that is in order for every kind of file that a command reads: its ending and its content.
SOUND = {
    "design": (".toml", oscsim.dumps(oscsim.load("dinghy"))),
    "design with everything": (
        ".toml",
        'filled = ["balance.mass_mg", "escapement.lock_deg"]\n'
        + HEAVY
        + "\n[index_pins]\nstiffness_share = 0.01\nlow_contact_deg = -20.0\n"
        + "[tolerance.balance]\nviscous_q = { percent = 10 }\n[fitted.balance]\nviscous_q = 20.0\n"
        + "[train.arbors.third]\npivot_radius_mm = 0.2\n",
    ),
    "readings": (".csv", bundled_readings_text("packet_cleaned")),
    "readings in TOML": (".toml", READINGS_TOML),
    "springs": (".csv", SPRINGS),
    "groups": (".toml", GROUPS),
}


def _flip(draw: st.DrawFn, content: bytes) -> bytes:
    place = draw(st.integers(0, max(len(content) - 1, 0)))
    return content[:place] + bytes([draw(st.integers(0, 255))]) + content[place + 1 :]


def _insert(draw: st.DrawFn, content: bytes) -> bytes:
    place = draw(st.integers(0, len(content)))
    what = draw(st.binary(min_size=1, max_size=8) | st.sampled_from(ODD).map(str.encode))
    return content[:place] + what + content[place:]


def _cut(draw: st.DrawFn, content: bytes) -> bytes:
    a, b = sorted((draw(st.integers(0, len(content))), draw(st.integers(0, len(content)))))
    return content[:a] + content[b:]


def _truncate(draw: st.DrawFn, content: bytes) -> bytes:
    return content[: draw(st.integers(0, len(content)))]


def _line_again(draw: st.DrawFn, content: bytes) -> bytes:
    lines = content.split(b"\n")
    line = draw(st.sampled_from(lines))
    lines.insert(draw(st.integers(0, len(lines))), line)
    return b"\n".join(lines)


def _lines_shuffled(draw: st.DrawFn, content: bytes) -> bytes:
    return b"\n".join(draw(st.permutations(content.split(b"\n"))))


def _value(draw: st.DrawFn, content: bytes) -> bytes:
    """One value, cell or key replaced by something odd."""
    words = list(re.finditer(rb"[^\s=,\[\]{}\"]+", content))
    if not words:
        return content
    word = draw(st.sampled_from(words))
    odd = draw(st.sampled_from(ODD) | st.text(max_size=12))
    return content[: word.start()] + odd.encode("utf-8", "surrogatepass") + content[word.end() :]


def _whole(draw: st.DrawFn, content: bytes) -> bytes:
    """The file as another program might leave it."""
    ways: list[Callable[[bytes], bytes]] = [
        lambda c: b"\xef\xbb\xbf" + c,
        lambda c: b"\xef\xbb\xbf\xef\xbb\xbf" + c,
        lambda c: c.replace(b"\n", b"\r\n"),
        lambda c: c.replace(b"\n", b"\r"),
        lambda c: c.decode("utf-8", "replace").encode("utf-16"),
        lambda c: c.decode("utf-8", "replace").encode("latin-1", "replace"),
        lambda c: c.replace(b"\n", b"\n\x00"),
        lambda c: c + b"x" * 150_000,
        lambda c: c.replace(b"=", b"= " + b" " * 30_000),
        lambda c: c + b"\n" * 50_000,
        lambda c: c + b"\na = " + b"[" * 400 + b"]" * 400,
        lambda c: c + b"\na = " + b"{b=" * 3000 + b"1" + b"}" * 3000,
        lambda c: c + b"\n[" + b"a." * 900 + b"a]\n",
        lambda c: c + b"\n" + b"a." * 40_000 + b"a = 1\n",
        lambda c: c.replace(b",", b";"),
        lambda c: c.replace(b",", b"\t"),
        lambda c: c.replace(b",", b',"', 1),
        lambda c: c.replace(b".", b","),
        lambda c: c * 2,
        lambda c: c + c.split(b"\n")[-2] * 2000 if c.count(b"\n") > 1 else c,
        lambda c: c.upper(),
        lambda c: c.replace(b"[", b"[["),
        lambda c: b"",
    ]  # fmt: skip
    return draw(st.sampled_from(ways))(content)


_MANGLES = (_flip, _insert, _cut, _truncate, _line_again, _lines_shuffled, _value, _value, _value, _whole)


@st.composite
def files(draw: st.DrawFn, kind: str) -> bytes:
    """Any bytes, or a sound file of this kind with one to four things done to it; small enough to be read at all."""
    if draw(st.integers(0, 9)) == 0:
        return draw(st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
    content = SOUND[kind][1].encode()
    for mangle in draw(st.lists(st.sampled_from(_MANGLES), min_size=1, max_size=4)):
        content = mangle(draw, content)
    return content


def words() -> st.SearchStrategy[str]:
    """Words for a command line: names, odd values, any text that a shell can hand over; never the path of a folder."""
    printable = st.text(st.characters(exclude_characters="\x00/\\", exclude_categories=["Cs"]), max_size=12)
    # bytes of a command line that are no UTF-8 arrive as lone surrogates
    undecoded = st.binary(max_size=6).map(
        lambda b: b.replace(b"/", b"").replace(b"\x00", b"").decode("utf-8", "surrogateescape")
    )
    names = st.sampled_from([*oscsim.parameter_names(), *oscsim.bundled()])
    odd = st.sampled_from([word.replace("\x00", "").replace("/", "")[:200] for word in ODD])
    assigned = st.tuples(names, odd).map("=".join)
    number = st.floats().map(repr) | st.integers(-10, 500).map(str)
    return odd | printable | undecoded | names | assigned | number


def write(folder: Path, name: str, kind: str, content: bytes) -> str:
    """The file written into the folder; its name."""
    path = folder / f"{name}{SOUND[kind][0]}"
    path.write_bytes(content)
    return path.name
