"""For the shell: completion and the manual page."""

from __future__ import annotations

from onecrew.cli.specs.adding import Commands, add

SHELLS = ("bash", "zsh", "fish")


def completion(commands: Commands) -> None:
    command = add(
        commands,
        "completion",
        does="print what a shell needs to complete onecrew's commands and options",
        more="bash: onecrew completion bash > ~/.local/share/bash-completion/completions/onecrew\n"
        'zsh:  onecrew completion zsh > "${fpath[1]}/_onecrew"\n'
        "fish: onecrew completion fish > ~/.config/fish/completions/onecrew.fish\n"
        "Then start a new shell.",
        example="onecrew completion bash",
    )
    command.add_argument("shell", choices=SHELLS)


def manual(commands: Commands) -> None:
    command = add(
        commands,
        "manual",
        does="list the topics of the manual, print one, or print the manual page of the command",
        more="With --roff, the page of the command itself, made from the commands, as man reads it:\n"
        "to read it: onecrew manual --roff | man -l -\n"
        "to keep it: onecrew manual --roff > ~/.local/share/man/man1/onecrew.1",
        example="onecrew manual wifi",
    )
    command.add_argument("topic", nargs="?", metavar="TOPIC")
    command.add_argument("--roff", action="store_true", help="the manual page of the command, for man")
