"""For the shell: completion and the manual page."""

from __future__ import annotations

from onecrew.cli.specs.adding import Commands, add

SHELLS = ("bash", "zsh", "fish")


def completion(commands: Commands) -> None:
    command = add(
        commands,
        "completion",
        "onecrew.cli.completion:run",
        does="print what a shell needs to complete onecrew's commands and options",
        more="bash: onecrew completion bash > ~/.local/share/bash-completion/completions/onecrew\n"
        'zsh:  onecrew completion zsh > "${fpath[1]}/_onecrew"\n'
        "fish: onecrew completion fish > ~/.config/fish/completions/onecrew.fish\n"
        "Then start a new shell.",
        example="onecrew completion bash",
    )
    command.add_argument("shell", choices=SHELLS)


def manual(commands: Commands) -> None:
    add(
        commands,
        "manual",
        "onecrew.cli.manual:run",
        does="print the manual page, made from the commands themselves",
        more="To read it: onecrew manual | man -l -\n"
        "To keep it: onecrew manual > ~/.local/share/man/man1/onecrew.1",
        example="onecrew manual",
    )
