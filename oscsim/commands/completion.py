"""``oscsim completion``: a script that lets the shell complete commands, options and names; made from the parsers."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

from oscsim.answers.without import WITHOUT
from oscsim.commands.options import Commands, add_command
from oscsim.commands.points import CONDITION
from oscsim.designs import bundled, bundled_diaries, bundled_readings, bundled_series
from oscsim.errors import InputError, hint, shown
from oscsim.typical.families import FAMILIES
from oscsim.typical.numbers import NUMBERS
from oscsim.units import POSITIONS

SHELLS = ("bash", "zsh", "fish")
#: Arguments that an option or a place may take without end.
_MANY = 99


@dataclass(frozen=True)
class _Taken:
    """What may stand after an option or in a place: words, files or not, and how many."""

    words: tuple[str, ...] = ()
    files: bool = False
    most: int = 1


def register(commands: Commands) -> None:
    """Add the command; its script is of all commands that are there when it runs."""
    parser = add_command(
        commands, "completion",
        "completion bash > ~/.local/share/bash-completion/completions/oscsim",
        lambda options: _script(options.shell, dict(commands.choices)),
    )  # fmt: skip
    parser.add_argument("shell", metavar="|".join(SHELLS), help="for which shell")


def _script(shell: str, parsers: dict[str, argparse.ArgumentParser]) -> str:
    if shell not in SHELLS:
        raise InputError(f"shell {shown(shell)}: must be one of {', '.join(SHELLS)}{hint(shell, SHELLS)}")
    return {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell](parsers)


def _actions(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    yield from parser._actions  # argparse offers no other way to ask what it knows


def _options(parser: argparse.ArgumentParser) -> dict[str, argparse.Action]:
    """Long options of a command."""
    return {
        name: action for action in _actions(parser) for name in action.option_strings if name.startswith("--")
    }


def _most(action: argparse.Action) -> int:
    if action.nargs in ("+", "*"):
        return _MANY
    if isinstance(action.nargs, int):
        return action.nargs
    return 1


def _taken(command: str, name: str, action: argparse.Action) -> _Taken:
    """What an option or a place takes, from its name and from what its help calls it."""
    metavar = action.metavar[0] if isinstance(action.metavar, tuple) else action.metavar or ""
    most = _most(action)
    if "|" in metavar:
        return _Taken(tuple(metavar.split("|")), most=most)
    if (metavar in ("DESIGN", "DESIGNS", "FILE", "WHAT") and not action.option_strings) or name == "name":
        return _Taken(tuple(bundled()), True, most)
    if name in ("--positions", "--position", "--reading", "--known-at"):
        return _Taken(tuple(POSITIONS), most=most)
    if name in ("--set", "--vary", "--free", "--sensitivities"):
        sign = "=" if name == "--set" else ""
        return _Taken(tuple(f"{key}{sign}" for key in NUMBERS if "." in key), most=most)
    if name in ("--condition", "--condition-after"):
        return _Taken(tuple(f"{name}=" for name in CONDITION), most=most)
    if name == "--without":
        return _Taken(tuple(WITHOUT), most=most)
    if name == "--family":
        return _Taken(tuple(FAMILIES), most=most)
    if name == "--readings" or metavar in ("READINGS.csv", "BEFORE.csv", "AFTER.csv"):
        return _Taken(tuple(bundled_readings()), name != "--readings" or command != "designs", most)
    for option, known in (("--series", bundled_series), ("--diary", bundled_diaries)):
        if name == option or metavar == f"{option[2:].upper()}.csv":
            return _Taken(tuple(known()), name != option, most)
    return _Taken((), metavar == "DIR" or "FILE" in metavar or "." in metavar, most)


def _places(command: str, parser: argparse.ArgumentParser) -> _Taken:
    """What may stand in the places of a command, all together."""
    found = [_taken(command, a.dest, a) for a in _actions(parser) if not a.option_strings]
    words = dict.fromkeys(word for one in found for word in one.words)
    return _Taken(tuple(words), any(one.files for one in found), _MANY)


def _bash(parsers: dict[str, argparse.ArgumentParser]) -> str:
    cases, options, places = [], [], []
    for command, parser in parsers.items():
        known = _options(parser)
        options.append(f'    {command}) options="{" ".join(known)}" ;;')
        for name, action in known.items():
            if action.nargs == 0:
                continue
            one = _taken(command, name, action)
            takes = f'most={one.most} files={int(one.files)} words="{" ".join(one.words)}"'
            cases.append(f'    "{command} {name}") {takes} ;;')
        one = _places(command, parser)
        places.append(f'    {command}) files={int(one.files)} words="{" ".join(one.words)}" ;;')
    return _BASH.format(
        commands=" ".join(parsers),
        options="\n".join(options),
        cases="\n".join(cases),
        places="\n".join(places),
    )


def _zsh(parsers: dict[str, argparse.ArgumentParser]) -> str:
    return (
        f"autoload -U +X compinit && compinit\nautoload -U +X bashcompinit && bashcompinit\n{_bash(parsers)}"
    )


def _fish(parsers: dict[str, argparse.ArgumentParser]) -> str:
    lines = ["# fish completion for oscsim", "complete -c oscsim -f"]
    for command, parser in parsers.items():
        about = (parser.description or "").replace("'", "\\'")
        lines.append(f"complete -c oscsim -n __fish_use_subcommand -a {command} -d '{about}'")
        here = f"complete -c oscsim -n '__fish_seen_subcommand_from {command}'"
        one = _places(command, parser)
        words = f" -a '{' '.join(one.words)}'" if one.words else ""
        if words or one.files:
            lines.append(f"{here}{' -F' if one.files else ''}{words}")
        for name, action in _options(parser).items():
            line = f"{here} -l {name.removeprefix('--')}"
            if action.nargs != 0:
                one = _taken(command, name, action)
                line += " -r -F" if one.files else " -x"
                line += f" -a '{' '.join(one.words)}'" if one.words else ""
            lines.append(line)
    return "\n".join(lines) + "\n"


_BASH = """\
# completion for oscsim
_oscsim() {{
  local cur command at i most files words options found
  cur=${{COMP_WORDS[COMP_CWORD]}}
  [ "$cur" = "=" ] && cur=
  command= at=0
  for ((i = 1; i < COMP_CWORD; i++)); do
    case ${{COMP_WORDS[i]}} in
    --*) [ -n "$command" ] && at=$i ;;
    -*) ;;
    *) [ -z "$command" ] && command=${{COMP_WORDS[i]}} ;;
    esac
  done
  if [ -z "$command" ]; then
    COMPREPLY=($(compgen -W "{commands} --help --version" -- "$cur"))
    return
  fi
  case $command in
{options}
    *) return ;;
  esac
  most=0 files=0 words=
  if [ "$at" -gt 0 ]; then
    case "$command ${{COMP_WORDS[at]}}" in
{cases}
    esac
  fi
  i=$((COMP_CWORD - at))
  [ "${{COMP_WORDS[at+1]}}" = "=" ] && [ "$i" -gt 1 ] && i=$((i - 1))
  if [ "${{cur#-}}" != "$cur" ]; then
    COMPREPLY=($(compgen -W "$options" -- "$cur"))
    return
  fi
  if [ "$at" -eq 0 ] || [ "$i" -gt "$most" ]; then
    case $command in
{places}
    esac
  fi
  COMPREPLY=($(compgen -W "$words" -- "$cur"))
  if [ "$files" -eq 1 ]; then
    while IFS= read -r found; do COMPREPLY+=("$found"); done < <(compgen -f -- "$cur")
  fi
  case ${{COMPREPLY[0]}} in *=) compopt -o nospace 2> /dev/null ;; esac
}}
complete -o filenames -o bashdefault -F _oscsim oscsim
"""
