#!/bin/sh
# Usage: [SUITE=bookworm] scripts/prove-bare.sh [FOLDER]      as root on Debian, with debootstrap installed
# Sets the committed state up in a minimal Debian that has python3, python3-venv, make, git and nothing graphical.
# A machine that once installed the mesher's libraries proves nothing; only a system that never had them does.
# The mirror, and pip's own settings where there are any, are this machine's.
set -eu
here=$(cd "$(dirname "$0")/.." && pwd)
folder=${1:-$(mktemp -d)}
suite=${SUITE:-bookworm}
bare=$folder/bare

say() { printf '\n== %s\n' "$*"; }
fail() { printf 'NOT PROVED: %s\n' "$*" >&2; exit 1; }
inside() { chroot "$bare" env HOME=/root PATH=/usr/sbin:/usr/bin:/sbin:/bin "$@"; }
release() { ! mountpoint -q "$bare/proc" || umount "$bare/proc"; }
trap release EXIT

fetch() { # the same commit into both clones, however far the checkout moves on meanwhile
    git clone --quiet --no-hardlinks "$here" "$1"
    git -C "$1" checkout --quiet --detach "$commit"
}

carry() { # copy a path of this machine to the same place inside, where there is one
    [ ! -e "$1" ] || { mkdir -p "$bare$(dirname "$1")" && cp -a "$1" "$bare$(dirname "$1")/"; }
}

[ "$(id -u)" = 0 ] || fail "debootstrap and chroot need root"
commit=$(git -C "$here" rev-parse HEAD)
mirror=$(apt-get indextargets --format '$(SITE)' 'Created-By: Packages' | head -n 1)
say "a minimal Debian ($suite) in $bare"
debootstrap --variant=minbase --include=ca-certificates,git,make,python3,python3-venv "$suite" "$bare" "$mirror" \
    >"$folder/debootstrap.log" 2>&1 || fail "debootstrap, see $folder/debootstrap.log"
for path in /etc/resolv.conf /etc/hosts /etc/apt/apt.conf.d /etc/ssl/certs /usr/local/share/ca-certificates \
    /etc/pip.conf /etc/xdg/pip "$HOME/.config/pip"; do
    carry "$path"
done
mount -t proc proc "$bare/proc"
if inside ldconfig -p | grep -qE 'libGLU\.so|libXft\.so|libXcursor\.so'; then
    fail "the system is not bare"
fi

say "as an ordinary user: must stop with the one line to type, and leave the packages in place"
inside useradd --create-home user
fetch "$bare/home/user/trivet"
if [ -e "$HOME/.config/pip" ]; then
    mkdir -p "$bare/home/user/.config" && cp -a "$HOME/.config/pip" "$bare/home/user/.config/"
fi
inside chown -R user: /home/user
as_user() { chroot --userspec=user:user "$bare" env HOME=/home/user PATH=/usr/bin:/bin "$@"; }
if as_user make -C /home/user/trivet set-up >"$folder/user.log" 2>&1; then
    fail "set-up passed without the libraries"
fi
cat "$folder/user.log"
line=$(grep -oE '(apt-get update && sudo )?apt-get install .*' "$folder/user.log") || fail "no line to type"

say "as root in another clone: must install what is missing by itself"
fetch "$bare/opt/trivet"
inside git config --global --add safe.directory /opt/trivet
dpkg_before=$(inside dpkg-query -W | wc -l)
inside make -C /opt/trivet set-up
inside /opt/trivet/.venv/bin/python -c '
import gmsh
gmsh.initialize()
gmsh.option.setNumber("General.Terminal", 0)
gmsh.model.occ.addDisk(0, 0, 0, 1, 1)
gmsh.model.occ.synchronize()
gmsh.model.mesh.generate(2)
print("mesh nodes:", len(gmsh.model.mesh.getNodes()[0]))
gmsh.finalize()
'
echo "packages before: $dpkg_before, after: $(inside dpkg-query -W | wc -l)"

say "again, both: root has nothing to do, and the user carries on where it stopped (having typed: $line)"
inside make -C /opt/trivet set-up
as_user make -C /home/user/trivet set-up
say "proved: $commit"
