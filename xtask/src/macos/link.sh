#!/bin/sh
# Links for macOS where none of Apple's libraries are: with the tool chain's own linker, LLD, against text
# stubs. rustc calls this with what it would call the linker with; the stubs are made in SDKROOT, one
# for each library that the objects ask for. A stub names a library and nothing that is in it, since
# objects do not say which library they expect a symbol in: the system looks for it when it loads.
set -eu

# stub FILE NAME: the library of that name, as the system has it.
stub() {
    mkdir -p "$(dirname "$1")"
    printf '%s\n' '--- !tapi-tbd' 'tbd-version: 4' "targets: [ $STUB_TARGET ]" \
        "install-name: '$2'" 'current-version: 1' 'compatibility-version: 1' '...' >"$1"
}

before=
more=
for argument in "$@"; do
    if [ "$before" = -framework ]; then
        folder=System/Library/Frameworks/$argument.framework
        stub "$SDKROOT/$folder/$argument.tbd" "/$folder/$argument"
    fi
    before=$argument
    case "$argument" in
        # Else a library is called after the folder that it was built in.
        -dylib) more='-install_name @rpath/libbrunt.dylib' && continue ;;
        # The C library is one of the parts of this one.
        -lSystem | -lc | -lm) name=/usr/lib/libSystem.B.dylib ;;
        -lobjc) name=/usr/lib/libobjc.A.dylib ;;
        -liconv) name=/usr/lib/libiconv.2.dylib ;;
        -l*)
            echo "link.sh: $argument: which library of the system is that?" >&2
            exit 1
            ;;
        *) continue ;;
    esac
    stub "$SDKROOT/usr/lib/lib${argument#-l}.tbd" "$name"
done

# Neither local symbols nor debugging, and a signature: that of nobody, which new Macs ask for.
# shellcheck disable=SC2086
exec "$LLD" "$@" $more -undefined dynamic_lookup -S -x -adhoc_codesign
