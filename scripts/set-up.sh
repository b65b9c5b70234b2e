#!/bin/sh
# Usage: scripts/set-up.sh PYTHON [--exactly]
# Looks at the interpreter in plain shell, because an interpreter that is too old could not even read the Python part.
set -eu
cd "$(dirname "$0")/.."
python=${1:-python3}
[ $# -eq 0 ] || shift

stop() {
    printf 'trivet: %s\n' "$@" >&2
    exit 1
}

other() {
    for name in python3.13 python3.12 python3.11; do
        if "$name" -c 'pass' 2>/dev/null; then
            printf 'There is a %s here: say PYTHON=%s after the make command.' "$name" "$name"
            return
        fi
    done
    printf 'Install one, then say PYTHON=python3.13 (or where it lies) after the make command.'
}

version=$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null) ||
    stop "'$python' does not run. trivet needs Python 3.11, 3.12 or 3.13." "$(other)"
case $version in
    3.11 | 3.12 | 3.13) ;;
    *) stop "'$python' is Python $version; trivet needs Python 3.11, 3.12 or 3.13." "$(other)" ;;
esac
"$python" -c 'import venv, ensurepip' 2>/dev/null ||
    stop "'$python' lacks its venv module, which some systems package apart." \
        "On Debian and Ubuntu: sudo apt-get install python$version-venv"

exec "$python" -m scripts.set_up "$@"
