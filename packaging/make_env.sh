#!/bin/sh
# Make a Python environment with Tackwright (editable) and some of its extras, at the locked versions.
#
#     packaging/make_env.sh ENV EXTRAS [editor [VERSION]]
#
# `editor` adds the editor as a module (bpy), for which there are wheels for Python 3.11 and 3.13 only; VERSION is
# another of it than the locked one, as 4.2.23, and then nothing but an environment with just that will do.
# PYTHON=... chooses the Python. ENV/ready is touched when all went well.
set -eu
cd "$(dirname "$0")/.."
env=$1 extras=$2 editor=${3:-} wanted=${4:-}
lock=packaging/constraints.txt

# The first Python that runs, is new enough and can make environments; that of the environment as it is may be one.
first_python() {
    for python in ${PYTHON:-} "$env/bin/python" python3 python3.13 python3.12 python3.11 python; do
        if "$python" -c "import sys, venv, ensurepip; sys.exit(not (sys.version_info >= (3, 11) and ($1)))" \
            >/dev/null 2>&1; then
            echo "$python"
            return
        fi
    done
    return 1
}

case $wanted in # editors up to 5.0 come with Python 3.11, later ones with 3.13
'') fits='sys.version_info[:2] in ((3, 11), (3, 13))' ;;
4.* | 5.0*) fits='sys.version_info[:2] == (3, 11)' ;;
*) fits='sys.version_info[:2] == (3, 13)' ;;
esac

python=''
if [ -n "$editor" ]; then
    python=$(first_python "$fits") || python=''
    if [ -z "$python" ] && [ -n "$wanted" ]; then
        echo "There is no Python here for bpy $wanted (it must be that $fits): name one with PYTHON=/path/to/python." >&2
        exit 1
    fi
fi
if [ -z "$python" ]; then
    python=$(first_python True) || {
        echo "Tackwright needs Python 3.11 or newer with its venv module, and found none." >&2
        echo "Install one (Debian: apt-get install python3 python3-venv), or name it: make PYTHON=/path/to/python3" >&2
        exit 1
    }
fi
version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')

echo "Setting up $env with Python $version: Tackwright with $extras, at the versions of $lock"
[ -x "$env/bin/python" ] && [ "$("$env/bin/python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')" = "$version" ] ||
    "$python" -m venv --clear "$env"
# -qq leaves out pip's warnings about this machine's settings, and keeps its errors.
pip() { "$env/bin/python" -m pip --disable-pip-version-check --no-input "$@"; }
if [ -n "$wanted" ]; then # the locked versions but for the editor's
    grep -v '^bpy==' "$lock" >"$env/constraints.txt"
    lock=$env/constraints.txt
fi
pip -qq install -c "$lock" -e ".[$extras]"

if [ -n "$editor" ]; then
    case $version in
    3.11 | 3.13)
        wheel=${wanted:+bpy==$wanted}
        wheel=${wheel:-$(sed -n "s/^\(bpy==[^ ]*\) ; python_version == \"$version\"$/\1/p" "$lock")}
        if "$env/bin/python" -c "import importlib.metadata as m, sys; sys.exit('bpy==' + m.version('bpy') != '$wheel')" \
            >/dev/null 2>&1; then
            :
        elif [ -t 1 ]; then
            echo "Installing $wheel, the editor as a module: some 375 MB to fetch, 850 MB on disk"
            pip install -c "$lock" "$wheel"
        else
            echo "Installing $wheel, the editor as a module: some 375 MB to fetch, 850 MB on disk; this takes minutes"
            pip -qq install -c "$lock" "$wheel"
        fi
        "$env/bin/python" -c 'import bpy' || {
            echo "bpy cannot be loaded (the reason stands above), so the editor's tests cannot run." >&2
            echo "It needs some of the system's libraries: on Debian and Ubuntu, apt-get install" \
                "libgl1 libice6 libsm6 libx11-6 libxext6 libxfixes3 libxi6 libxkbcommon0 libxrender1" >&2
            exit 1
        }
        ;;
    *)
        echo "There is no editor module (bpy) for Python $version, only for 3.11 and 3.13: its tests will be skipped."
        ;;
    esac
fi
touch "$env/ready"
