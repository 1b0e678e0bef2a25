"""Paths that are not design files: directories, devices, torn and foreign files, none at all."""

import errno
import os
from pathlib import Path

import pytest

import oscsim
from oscsim.toml import tables_of
from tests.movements import HEAVY


@pytest.fixture
def rejected(refusal, tmp_path):
    """The complaint about a path, the same from ``load`` and from the command line."""

    def run(path):
        with pytest.raises(oscsim.InputError) as caught:
            oscsim.load(path)
        line = refusal("settle", path)
        assert line == f"oscsim: {caught.value}\n"
        assert refusal("rundown", path, "--plot", tmp_path / "picture.png") == line
        assert not (tmp_path / "picture.png").exists()
        return line

    return run


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty, a design file needs name and the tables"),
        (b"\n  # only a remark\n\n", "empty, a design file needs"),
        (b"\0" * 50, "not TOML"),
        (HEAVY.encode().replace(b"teeth", b"te\0eth"), "not TOML"),
        (HEAVY.encode().replace(b"heavy", b"\xe9\xff"), "not UTF-8 text (byte 8)"),
        (HEAVY.encode("utf-16"), "not UTF-8 text (byte 0)"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not UTF-8 text"),
        (b'{"name": "x"}', "not TOML"),
        (b"balance: 5\n", "not TOML"),
        (HEAVY.encode()[:-3] + b"..", "not TOML"),
        (HEAVY.encode() + b"[balance]\n", "not TOML: Cannot declare"),
        (HEAVY.encode().replace(b"[train]", b"[[train]"), "not TOML"),
        (HEAVY.encode().replace(b"= 15\n", b"= 15 teeth\n"), "not TOML: Expected newline"),
        (b"name = " + b"[" * 50_000, "nested too deeply"),
        (b"name = " + b"[" * 50_000 + b"]" * 50_000, "nested too deeply"),
        (b"name = " + b"{a=" * 30_000, "nested too deeply"),
        (b"a." * 90_000 + b"a = 1", "nested too deeply"),
        (b"[" + b"a." * 90_000 + b"a]", "nested too deeply"),
        (b"balance." + b"a." * 900 + b"a = 1", "name: missing text"),
        (b"name." + b"a." * 999 + b"a = 1\n" + HEAVY.encode().split(b"\n", 1)[1], "name = "),
        (b"name = 1" + b"0" * 5000, "a number has thousands of digits"),
        (b"name = 'x'\n" * 2, "not TOML: Cannot overwrite a value in line 2"),
    ],
)  # fmt: skip
def test_foreign_and_torn_files(content, said, rejected, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    line = rejected(path)
    assert str(path) in line
    assert said in line


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("a = 1\nb = [1 2]\n", "line 2, 'b = [1 2]'", "a comma is missing before '2'"),
        ("b = [80, 75\n  70, 60]\n", "line 2, '70, 60]'", "a comma is missing before '70'"),
        ('b = ["CH" "FH"]', "line 1", "a comma is missing before '\"FH\"'"),
        ("b = [[1, 2]\n [3, 4]]\n", "line 2", "a comma is missing before '[3'"),
        ("p = { CH = 45 6H = 55 }", "line 1", "a comma is missing before '6H'"),
        ("b = [1; 2]", "line 1", "values are parted by commas, not by ;"),
        ("a = [1, 2\nb = 3\n", "line 2, 'b = 3'", "perhaps ] is missing after line 1, 'a = [1, 2'"),
        ("a = [1, 2\n[train]\n", "line 2, '[train]'", "perhaps ] is missing after line 1, 'a = [1, 2'"),
        (
            "x = 0\na = [1, 2,\n\n",
            "at the end of the file",
            "perhaps ] is missing after line 2, 'a = [1, 2,'",
        ),
        ('a = """b\nc = 1\n', "at the end of the file", 'perhaps """ is missing after line 1'),
        ("p = { CH = 45,\n 6H = 55 }", "line 1", "what is in { } stands in one line"),
        ('a = "x\nb = 3\n', "line 1, 'a = \"x'", "a quotation mark is missing at the end"),
        ("a = 1,5\n", "line 1, 'a = 1,5'", "a decimal comma, write a point"),
    ],
)
def test_what_is_missing_in_a_line_is_named(text, line, said):
    with pytest.raises(oscsim.InputError) as caught:
        tables_of(text)
    told = str(caught.value)
    assert line in told
    assert said in told
    assert "\n" not in told


def test_missing_file_and_unknown_name(rejected, tmp_path):
    assert "mine.toml: no such file" in rejected(tmp_path / "mine.toml")
    assert "no such file" in rejected(tmp_path / "nowhere" / "mine.toml")
    name = oscsim.bundled()[0]
    assert f"no bundled design of that name; did you mean '{name}'?" in rejected(f"{name}x")
    assert f"did you mean '{name}'?" in rejected(f"{name}.toml")
    assert f"known: {', '.join(oscsim.bundled())}" in rejected("0815")
    assert "no bundled design" in rejected("x" * 5000)
    assert "cannot be read: File name too long" in rejected("x" * 5000 + ".toml")
    assert "no bundled design" in rejected("a\0b")


@pytest.mark.parametrize("path", [".", "..", ""])
def test_directory(path, rejected, tmp_path):
    assert "a directory, not a design file" in rejected(str(tmp_path / path) if path else "")


def test_a_file_of_a_hundred_megabytes(rejected, tmp_path):
    path = tmp_path / "large.toml"
    with path.open("wb") as out:
        out.truncate(100_000_000)
    assert "100.0 MB: too large, a design file has at most 0.2 MB" in rejected(path)


def test_a_file_that_is_larger_than_it_says(rejected, tmp_path, monkeypatch):
    path = tmp_path / "grows.toml"
    path.write_bytes(b"#" * 300_000)
    small = (tmp_path / "small").absolute()
    small.touch()
    real = Path.stat
    monkeypatch.setattr(Path, "stat", lambda self, **how: real(small if self == path else self, **how))
    assert "too large" in rejected(path)


def test_unreadable_file(rejected, tmp_path):
    path = tmp_path / "locked.toml"
    path.write_text(HEAVY, "utf-8")
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user can read anything")
    assert "locked.toml: cannot be read: Permission denied" in rejected(path)


@pytest.mark.parametrize("call", ["stat", "open"])
@pytest.mark.parametrize("code", [errno.EACCES, errno.EIO])
def test_the_operating_system_refuses(call, code, rejected, tmp_path, monkeypatch):
    path = tmp_path / "locked.toml"
    path.write_text(HEAVY, "utf-8")
    real = getattr(Path, call)

    def refuse(self, *arguments, **options):
        if self == path:
            raise OSError(code, os.strerror(code), str(path))
        return real(self, *arguments, **options)

    monkeypatch.setattr(Path, call, refuse)
    assert f"locked.toml: cannot be read: {os.strerror(code)}" in rejected(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_pipe_is_not_waited_for(rejected, tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    assert "pipe.toml: not a regular file" in rejected(tmp_path / "pipe.toml")


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/null"])
def test_device(device, rejected):
    if not os.path.exists(device):
        pytest.skip("no such device here")
    assert f"{device}: not a regular file" in rejected(device)


def test_link_that_leads_nowhere_or_in_a_circle(rejected, tmp_path):
    try:
        (tmp_path / "lost.toml").symlink_to("nowhere")
        (tmp_path / "circle.toml").symlink_to("circle.toml")
    except OSError:
        pytest.skip("no links here")
    assert "lost.toml: no such file" in rejected(tmp_path / "lost.toml")
    assert "circle.toml: cannot be read" in rejected(tmp_path / "circle.toml")


def test_a_name_that_would_break_the_line_is_written_out(rejected, tmp_path):
    line = rejected(tmp_path / "a\n\x1b[31mb.toml")
    assert r"a \x1b[31mb.toml: no such file" in line
