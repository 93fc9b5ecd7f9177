#!/bin/sh
# Run the scenarios of tests/window in a real window, one after the other, and say at the end which of them failed.
#
#     packaging/test_window.sh BENCH [SCENARIO ...]
#
# BENCH is a command that opens the editor on a screen of its own and plays a scenario, as tests/window/draw_and_export.py
# says: BENCH run SCENARIO --extension ZIP --mount DIR --size WxH --out DIR --timeout S. It exits with 0 if all went well.
set -eu
cd "$(dirname "$0")/.."
bench=$1
shift
[ $# -gt 0 ] || set -- first_use draw_and_export inner_and_openings pick_openings undo_with_live walk_through \
    every_control menus_under_live
zip=$(ls -t dist/*linux*.zip dist/*.zip 2>/dev/null | head -n 1)
failed=''
play() {  # NAME SIZE OUT [ARGUMENT ...]
    scenario=tests/window/$1.py size=$2 out=build/window/$3
    shift 3
    for given; do
        set -- "$@" --arg "$given"
        shift
    done
    $bench run "$scenario" --extension "$zip" --mount "$PWD/tests" --size "$size" --out "$out" --timeout 3600 "$@"
}
for name; do
    case $name in
    walk_through) size=1600x1000 ;;
    every_control) size=900x1500 ;;
    menus_under_live) size=1000x1600 ;;
    *) size=2200x1700 ;;
    esac
    if [ "$name" = every_control ]; then  # a window for each scene: what one leaves behind disturbs no other
        mkdir -p build/window
        ran=''
        for scene in $(sed -n '/^SCENES = {/,/^}/s/^    "\([a-z_]*\)": .*/\1/p' tests/window/every_control.py); do
            echo "---- $name: $scene"
            # what the earlier ones ran is handed on: the last one looks whether anything was never run
            { play "$name" "$size" "every_control_$scene" "$scene" $ran || echo "failed: $scene"; } |
                tee build/window/every_control.log
            ran="$ran $(sed -n 's/.*RAN //p' build/window/every_control.log)"
            grep -q "^failed: $scene" build/window/every_control.log && failed="$failed $name:$scene"
        done
        continue
    fi
    echo "---- $name"
    play "$name" "$size" "$name" || failed="$failed $name"
done
[ -z "$failed" ] || { echo "failed:$failed" >&2; exit 1; }
