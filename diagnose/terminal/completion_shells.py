"""The scripts of the shells, with gaps for what the table of commands says."""

from __future__ import annotations

BASH = """\
# Completion of diagnose for bash.  Source it, or put it where bash-completion looks for files.
# Made by: diagnose completion bash

_diagnose_ask() {{
    diagnose completion "$@" 2>/dev/null
}}

_diagnose() {{
    local word=${{COMP_WORDS[COMP_CWORD]}} before=${{COMP_WORDS[COMP_CWORD-1]}}
    local command=${{COMP_WORDS[1]}} takes=' ' kind=none words='' number=1 n
    local -a plant=()
    COMPREPLY=()
    if ((COMP_CWORD == 1)); then
        mapfile -t COMPREPLY < <(compgen -W '{names}' -- "$word")
        return
    fi
    case $command in
{takes}
    esac
    for ((n = 2; n < COMP_CWORD; n++)); do
        if [[ $takes == *" ${{COMP_WORDS[n]}} "* ]]; then
            [[ ${{COMP_WORDS[n]}} == --plant ]] && plant=(--plant "${{COMP_WORDS[n+1]}}")
            ((n++))
        elif [[ ${{COMP_WORDS[n]}} != -* ]]; then
            ((number++))
        fi
    done
    if [[ $takes == *" $before "* ]]; then
        case $command\\ $before in
{after}
        esac
    elif [[ $word == -* ]]; then
        case $command in
{options}
        esac
    else
        case $command\\ $number in
{places}
        esac
    fi
    case $kind in
        files) compopt -o filenames 2>/dev/null
            mapfile -t COMPREPLY < <(compgen -f -- "$word"); return ;;
        none) ;;
        *) words=$(_diagnose_ask "$kind" "${{plant[@]}}") ;;
    esac
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$word")
    if ((${{#COMPREPLY[@]}} == 0)) && [[ $kind == loops ]]; then
        mapfile -t COMPREPLY < <(compgen -W "$words" -- "${{word^^}}")
    fi
}}

complete -F _diagnose diagnose
"""

ZSH = """\
#compdef diagnose
# Completion of diagnose for zsh.  Put it as _diagnose into a folder of fpath, or source it.
# Made by: diagnose completion zsh

_diagnose() {{
    local word=${{words[CURRENT]}} before=${{words[CURRENT-1]}} command=${{words[2]}} kind=none
    local -a takes list plant
    local -i number=1 n
    if ((CURRENT == 2)); then
        list=(
{commands}
        )
        _describe -t commands command list
        return
    fi
    case $command in
{takes}
    esac
    for ((n = 3; n < CURRENT; n++)); do
        if ((${{takes[(Ie)${{words[n]}}]}})); then
            [[ ${{words[n]}} == --plant ]] && plant=(--plant ${{(Q)words[n+1]}})
            ((n++))
        elif [[ ${{words[n]}} != -* ]]; then
            ((number++))
        fi
    done
    if ((${{takes[(Ie)$before]}})); then
        case $command\\ $before in
{after}
        esac
    elif [[ $word == -* ]]; then
        case $command in
{options}
        esac
        _describe -t options option list
        return
    else
        case $command\\ $number in
{places}
        esac
    fi
    case $kind in
        (files) _files ;;
        (none) ;;
        (*) compadd -M 'm:{{a-z}}={{A-Z}}' -- \\
            ${{(f)"$(diagnose completion $kind $plant 2>/dev/null)"}} ;;
    esac
}}

if [[ ${{funcstack[1]}} == _diagnose ]]; then
    _diagnose "$@"
elif ((${{+functions[compdef]}})); then
    compdef _diagnose diagnose
fi
"""

FISH = """\
# Completion of diagnose for fish.  Source it, or put it into ~/.config/fish/completions.
# Made by: diagnose completion fish

function __diagnose_ask
    set -l words (commandline -opc)
    set -l plant
    for n in (seq 2 (count $words))
        if test "$words[$n]" = --plant
            set plant --plant $words[(math $n + 1)]
        end
    end
    diagnose completion $argv $plant 2>/dev/null
end

function __diagnose_words
    set -l number 0
    set -l skip 0
    for word in (commandline -opc)
        if test $skip = 1
            set skip 0
        else if contains -- $word $__diagnose_takes
            set skip 1
        else if not string match -q -- '-*' $word
            set number (math $number + 1)
        end
    end
    echo $number
end

complete -c diagnose -f
complete -c diagnose -n __fish_use_subcommand -l version -d 'show the version'
complete -c diagnose -l help -d 'show arguments and examples'
"""
