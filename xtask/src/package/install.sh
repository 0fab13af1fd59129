#!/bin/sh
# Puts Brunt where hosts and shells look for it, and takes it away again.
#
#   ./install.sh                     for yourself: ~/.clap, ~/.vst3, ~/.local
#   ./install.sh --system            for everyone: /usr/lib/clap, /usr/lib/vst3, /usr/local
#   ./install.sh [--system] --remove
#
# On macOS plug-ins go to Library/Audio/Plug-Ins, yours or everyone's. Nobody has tried it there.
#
# --remove takes this archive's own files away, and the folders that they leave empty. Readings and
# reports that you have saved stay.
set -eu
cd "$(dirname "$0")"

system=false
remove=false
for argument in "$@"; do
    case "$argument" in
        --system) system=true ;;
        --remove) remove=true ;;
        *)
            echo "install.sh: $argument: expected --system or --remove" >&2
            exit 2
            ;;
    esac
done

if ! $system; then
    : "${HOME:?expected a home folder to install to}"
fi
case "$(uname):$system" in
    Darwin:true) rest=/usr/local clap=/Library/Audio/Plug-Ins/CLAP vst3=${clap%CLAP}VST3 ;;
    Darwin:*) rest=$HOME/.local clap=$HOME/Library/Audio/Plug-Ins/CLAP vst3=${clap%CLAP}VST3 ;;
    *:true) rest=/usr/local clap=/usr/lib/clap vst3=/usr/lib/vst3 ;;
    *) rest=$HOME/.local clap=$HOME/.clap vst3=$HOME/.vst3 ;;
esac

# Every file of the archive, and where it goes.
find bin clap vst3 share -type f | sort | while IFS= read -r file; do
    case "$file" in
        clap/*) to=$clap/${file#clap/} limit=$clap ;;
        vst3/*) to=$vst3/${file#vst3/} limit=$vst3 ;;
        *) to=$rest/$file limit=$rest ;;
    esac
    if $remove; then
        rm -f "$to"
        # Up to the folder that was there for others, too; one with something in it stays.
        folder=$(dirname "$to")
        while rmdir "$folder" 2>/dev/null && [ "$folder" != "$limit" ]; do
            folder=$(dirname "$folder")
        done
    else
        mkdir -p "$(dirname "$to")"
        # Next to its place first, so that a host never sees half a file.
        cp "$file" "$to.part"
        mv "$to.part" "$to"
        echo "$to"
    fi
done

if $remove; then
    echo "Brunt is removed."
else
    echo "Rescan the plug-ins in your host if it does not find Brunt by itself."
    case ":$PATH:" in
        *":$rest/bin:"*) ;;
        *) echo "$rest/bin is not in your PATH: add it to call brunt by its name." ;;
    esac
fi
