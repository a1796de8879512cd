"""``taper completion``: a script by which a shell completes commands, options and file names."""

from __future__ import annotations

import argparse
import re
import sys

from analyzer.commands.logs import READ

SHELLS = ("bash", "zsh", "fish")
EPILOG = """\
  bash:  echo 'eval "$(taper completion bash)"' >> ~/.bashrc
  zsh:   echo 'eval "$(taper completion zsh)"' >> ~/.zshrc
  fish:  taper completion fish > ~/.config/fish/completions/taper.fish"""

_BASH = """\
_taper() {{
    local word="${{COMP_WORDS[COMP_CWORD]}}" options=""
    if [ "$COMP_CWORD" -eq 1 ]; then
        COMPREPLY=($(compgen -W "{commands}" -- "$word"))
        return
    fi
    case "${{COMP_WORDS[1]}}" in
{cases}
    esac
    case "$word" in
        -*) COMPREPLY=($(compgen -W "$options" -- "$word")) ;;
        *) COMPREPLY=($(compgen -f -- "$word")) ;;
    esac
}}
complete -o filenames -F _taper taper
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("shell", choices=SHELLS, help="which shell")


def run(arguments: argparse.Namespace) -> int:
    """Print the script; the exit status."""
    options, helps = options_of(arguments.parser), helps_of(arguments.parser)
    sys.stdout.write(
        fish_script(options, helps) if arguments.shell == "fish" else bash_script(options, arguments.shell)
    )
    return READ


def options_of(parser: argparse.ArgumentParser) -> dict[str, list[str]]:
    """Every command with its long options, as its own help shows them."""
    return {
        name: sorted({*re.findall(r"--[a-z][a-z-]*", one.format_usage()), "--help"})
        for name, one in _commands(parser).choices.items()
    }


def helps_of(parser: argparse.ArgumentParser) -> dict[str, str]:
    """Every command with its line of help."""
    return {one.dest: one.help or "" for one in _commands(parser)._choices_actions}


def _commands(parser: argparse.ArgumentParser) -> argparse._SubParsersAction[argparse.ArgumentParser]:
    (commands,) = (one for one in parser._actions if isinstance(one, argparse._SubParsersAction))
    return commands


def bash_script(options: dict[str, list[str]], shell: str = "bash") -> str:
    """The script for bash, and for zsh, which reads it by its own compatibility with bash."""
    cases = "\n".join(f'        {name}) options="{" ".join(own)}" ;;' for name, own in options.items())
    before = "autoload -U +X bashcompinit && bashcompinit\n" if shell == "zsh" else ""
    return before + _BASH.format(commands=" ".join(options), cases=cases)


def fish_script(options: dict[str, list[str]], helps: dict[str, str]) -> str:
    """The script for fish."""
    lines = []
    for name, own in options.items():
        told = helps[name].replace("'", "")
        lines.append(f"complete -c taper -f -n __fish_use_subcommand -a {name} -d '{told}'")
        lines += [f"complete -c taper -n '__fish_seen_subcommand_from {name}' -l {one[2:]}" for one in own]
    return "\n".join(lines) + "\n"
