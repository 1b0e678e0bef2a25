"""The manual page of the command line, docs/command-line.md: ``python -m oscsim.command_line`` prints it.

Commands, options and examples are those of the parsers, so that they stand in one place only.
"""

from __future__ import annotations

import argparse
import sys

from oscsim.cli import parser_of_all

#: Options taken by this many commands or more are described once.
_COMMON = 4

INTRO = """\
# The command line

`oscsim COMMAND ...`: one question a command. `oscsim --help` lists them and `oscsim COMMAND --help` explains one, with
an example. This page is printed by `python -m oscsim.command_line` from the same parsers.

## What all commands have in common

- **A design** is a TOML file, or the name of a bundled design (`oscsim designs`).
- **Several designs at once.** Where a command takes `[DESIGN ...]`, give as many as you like, or a pattern such as
  `'movements/*.toml'`; oscsim resolves patterns itself where the shell does not, and a pattern that matches nothing is
  an error. Text answers stand one below the other, JSON becomes a list, CSV gets a first column `design`, and `--plot
  run.png` writes `run-NAME.png` for each. If one of them cannot be used, nothing is written.
- **Numbers** are in the unit of the option's help; with a unit of the trade behind them they are understood too: `3Hz`,
  `24h`, `'11.5 lignes'`. Lists are parted by blanks or commas: `--hours 0 24` or `--hours 0,24`, where a comma
  parts and is no decimal. Positions are ISO 3158 symbols (CH, FH, 12H, 3H, 6H, 9H) or words in quotes ("dial up").
- **One option, one meaning**: `--vary NAME FROM TO [COUNT]` tries values of a number, `--free NAME ...` lets a fit move
  it, `--set NAME=VALUE` gives it. An option that an answer makes no use of is refused.
- **`--format`** text for people, csv and json for programs. In CSV and JSON the unit is in every key, and a number that
  there is not is an empty cell or null, beside a state that says why. `completion` prints a script and has none.
- **Results go to standard output**, complaints and progress to standard error; progress only to a terminal.
- **Files** are written whole or not at all. `--plot`, `--report` and `--html` write over an older one.
  `--output`, which writes a design file, does not: it wants `--overwrite`.
- **Bad input** is one line that names field, value, unit and allowed range, and what may have been meant. Nothing is
  written then.
- **Colour** only on a terminal: headings in bold, words such as *stops* or *unusual* in yellow. It says nothing that
  the words do not. Set `NO_COLOR` to anything to have none.

## Exit codes

| code | meaning |
| --- | --- |
| 0 | done; for `check`: all files are valid designs |
| 2 | input that cannot be used, or something that cannot be written; for `check`: some file is no valid design |
| 130 | interrupted by Ctrl-C; no file is left half written |

A reader that has seen enough, such as `head`, is no error.

## Shell completion

```sh
mkdir -p ~/.local/share/bash-completion/completions
oscsim completion bash > ~/.local/share/bash-completion/completions/oscsim   # new shells know it
oscsim completion zsh > ~/.oscsim-completion.zsh                             # then source it from ~/.zshrc
oscsim completion fish > ~/.config/fish/completions/oscsim.fish
```

It completes commands, options, names of designs, positions, families and dotted names of numbers, and needs no package.
Renew it after an update.
"""


def page() -> str:
    """The whole page as markdown."""
    parsers = parser_of_all()
    common = _common(parsers)
    parts = [INTRO, _shared(parsers, common), "## Commands\n", _list(parsers)]
    parts += [_command(name, parser, common) for name, parser in parsers.items()]
    return "\n".join(parts)


def _options(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    return [a for a in parser._actions if a.option_strings and a.dest != "help"]


def _named(action: argparse.Action) -> str:
    """The option with what it takes, as it is typed."""
    name = action.option_strings[-1]
    if action.nargs == 0:
        return f"`{name}`"
    words = action.metavar or action.dest.upper()
    several = [words] if isinstance(words, str) else list(words)
    if isinstance(action.nargs, int) and isinstance(words, str):
        several = [words] * action.nargs
    text = " ".join(several)
    text = {"+": f"{text} [{text} ...]", "*": f"[{text} ...]", "?": f"[{text}]"}.get(str(action.nargs), text)
    return f"`{name} {text}`"


def _row(first: str, text: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in (first, text)) + " |\n"


def _common(parsers: dict[str, argparse.ArgumentParser]) -> dict[str, str]:
    """Options that many commands take in the same words: as typed, with their help."""
    counted: dict[tuple[str, str], int] = {}
    for parser in parsers.values():
        for action in _options(parser):
            key = (_named(action), action.help or "")
            counted[key] = counted.get(key, 0) + 1
    return {named: text for (named, text), count in counted.items() if count >= _COMMON}


def _shared(parsers: dict[str, argparse.ArgumentParser], common: dict[str, str]) -> str:
    rows = "".join(_row(named, text) for named, text in common.items())
    return f"## Options of many commands\n\n| option | meaning |\n| --- | --- |\n{rows}"


def _list(parsers: dict[str, argparse.ArgumentParser]) -> str:
    rows = "".join(_row(f"[`{name}`](#{name})", parser.description or "") for name, parser in parsers.items())
    return f"| command | question |\n| --- | --- |\n{rows}"


def _command(name: str, parser: argparse.ArgumentParser, common: dict[str, str]) -> str:
    """One command: what it is for, an example, its places and options."""
    places = [a for a in parser._actions if not a.option_strings]
    own = [a for a in _options(parser) if common.get(_named(a)) != a.help]
    shared = [_named(a).split()[0].strip("`") for a in _options(parser) if a not in own]
    example = (parser.epilog or "").removeprefix("example: ")
    text = f"### {name}\n\n{(parser.description or '').capitalize()}.\n\n```sh\n{example}\n```\n"
    rows = "".join(_row(f"`{_place(a)}`", a.help or "") for a in places)
    rows += "".join(_row(_named(a), a.help or "") for a in own)
    if rows:
        text += f"\n| | meaning |\n| --- | --- |\n{rows}"
    if shared:
        text += f"\nAlso {', '.join(f'`{word}`' for word in shared)}, as above.\n"
    return text


def _place(action: argparse.Action) -> str:
    word = str(action.metavar or action.dest.upper())
    return {"?": f"[{word}]", "*": f"[{word} ...]", "+": f"{word} [{word} ...]"}.get(str(action.nargs), word)


if __name__ == "__main__":
    sys.stdout.write(page())
