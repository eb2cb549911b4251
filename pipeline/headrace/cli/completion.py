"""headrace completion: what makes a shell complete the words of the command."""

from __future__ import annotations

from typing import ClassVar

import click
from click.shell_completion import (
    BashComplete,
    CompletionItem,
    FishComplete,
    ShellComplete,
    ZshComplete,
    add_completion_class,
)

from headrace.cli.asked import Asked, json_option

VARIABLE = "_HEADRACE_COMPLETE"

_BASH = """\
%(complete_func)s() {
    local kind value
    COMPREPLY=()
    while IFS=',' read -r kind value; do
        case $kind in
            plain) COMPREPLY+=("$value") ;;
            path) COMPREPLY+=("${value%%/}"); compopt -o filenames ;;
            dir) compopt -o dirnames ;;
            file) compopt -o default ;;
        esac
    done < <(IFS=$'\\n'; COMP_WORDS="${COMP_WORDS[*]}" COMP_CWORD=$COMP_CWORD \\
        %(complete_var)s=bash_complete "$1" 2>/dev/null)
}
complete -o nosort -F %(complete_func)s %(prog_name)s
"""


_ZSH = """\
#compdef %(prog_name)s

%(complete_func)s() {
    local -a answer names told folders files
    local kind value help
    answer=("${(@f)$(COMP_WORDS="${words[*]}" COMP_CWORD=$((CURRENT - 1)) \\
        %(complete_var)s=zsh_complete %(prog_name)s 2>/dev/null)}")
    for kind value help in $answer; do
        case $kind in
            plain) [[ $help == _ ]] && names+=("$value") || told+=("$value:$help") ;;
            path) [[ $value == */ ]] && folders+=("$value") || files+=("$value") ;;
            dir) _path_files -/ ;;
            file) _path_files -f ;;
        esac
    done
    (( $#told )) && _describe -V unsorted told -U
    (( $#names )) && compadd -U -V unsorted -a names
    (( $#folders )) && compadd -U -S '' -a folders
    (( $#files )) && compadd -U -a files
    (( $#told + $#names + $#folders + $#files ))
}

if [[ $zsh_eval_context[-1] == loadautofunc ]]; then
    %(complete_func)s "$@"
else
    compdef %(complete_func)s %(prog_name)s
fi
"""


class Bash(BashComplete):
    """Bash, which quotes paths itself and puts a slash behind folders."""

    source_template: ClassVar[str] = _BASH


class Zsh(ZshComplete):
    """Zsh, which quotes paths itself; there is no blank behind a folder."""

    source_template: ClassVar[str] = _ZSH


class Fish(FishComplete):
    """Fish; it takes paths as they are."""

    def format_completion(self, item: CompletionItem[str]) -> str:
        if item.type == "path":
            item = CompletionItem(item.value)
        return super().format_completion(item)


SHELLS: dict[str, type[ShellComplete]] = {"bash": Bash, "zsh": Zsh, "fish": Fish}

for _name, _class in SHELLS.items():
    add_completion_class(_class, _name)


@click.command("completion", short_help="Print what makes a shell complete the command's words.")
@click.argument("shell", type=click.Choice(sorted(SHELLS)))
@json_option
def command(asked: Asked, shell: str) -> int:
    """Print a script for SHELL that completes commands, options, recipes, jobs and names.

    \b
        bash: headrace completion bash > ~/.local/share/bash-completion/completions/headrace
        zsh:  headrace completion zsh > ~/.zfunc/_headrace     (~/.zfunc is in fpath)
        fish: headrace completion fish > ~/.config/fish/completions/headrace.fish
    """
    from headrace.cli.group import headrace
    from headrace.report.plain import completion_data

    script = SHELLS[shell](headrace, {}, "headrace", VARIABLE).source()
    if asked.text:
        click.echo(script, nl=False)
    asked.answer(lambda: completion_data(shell, script))
    return 0
