"""`prepwright completion SHELL`: the script that lets a shell complete commands and options."""

from __future__ import annotations

import sys

import click

_SHELLS = ("bash", "zsh", "fish")

_BASH_TAKES = "COMPREPLY+=($value)"
_BASH_TAKES_WHOLE = """COMPREPLY+=("$value")
            # A name with blanks is one word: readline then writes the marks that keep it one.
            [[ $value == *[[:space:]]* ]] && compopt -o filenames"""


@click.command()
@click.argument("shell", type=click.Choice(_SHELLS))
def completion(shell: str) -> None:
    """Print the completion script for SHELL.

    \b
    bash: prepwright completion bash \\
            > ~/.local/share/bash-completion/completions/prepwright
    zsh:  prepwright completion zsh > a folder of your fpath, as _prepwright
    fish: prepwright completion fish > ~/.config/fish/completions/prepwright.fish
    """
    from click.shell_completion import get_completion_class

    from cli.main import PROGRAM, prepwright

    found = get_completion_class(shell)
    assert found is not None
    variable = f"_{PROGRAM.upper()}_COMPLETE"
    script = found(prepwright, {}, PROGRAM, variable)
    # Not `source()`: for bash it runs a bash to see its version, which need not be on this machine.
    text = script.source_template % script.source_vars()
    if shell == "bash":
        text = text.replace(_BASH_TAKES, _BASH_TAKES_WHOLE)
    sys.stdout.write(text.rstrip("\n") + "\n")
