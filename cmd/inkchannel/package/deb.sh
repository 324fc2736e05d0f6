#!/usr/bin/env bash
# deb.sh PROGRAM OUT.deb: puts the program into a Debian package, with its manual page, bash
# completion, icon, desktop entry, and the licences of what is linked into it.
set -euo pipefail
program=$1 out=$2
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../../.." && pwd)
tree=$(mktemp -d)
trap 'rm -rf "$tree"' EXIT
version=$(cat "$here/VERSION")
share=$tree/pkg/usr/share
install -Ds -m 755 "$program" "$tree/pkg/usr/bin/inkchannel"
install -d "$share/man/man1" "$share/bash-completion/completions" "$share/doc/inkchannel"
"$program" manual | gzip -9n > "$share/man/man1/inkchannel.1.gz"
"$program" completion > "$share/bash-completion/completions/inkchannel"
install -Dm 644 "$here/inkchannel.desktop" "$share/applications/inkchannel.desktop"
install -Dm 644 "$here/../desk/web/icon.svg" "$share/icons/hicolor/scalable/apps/inkchannel.svg"
install -Dm 644 "$root/README.md" "$share/doc/inkchannel/README.md"

# The licences of all that is inside.
{
  echo "inkchannel"; echo; cat "$root/LICENSE"
  (cd "$root" && go list -deps -f '{{with .Module}}{{if .Dir}}{{.Path}} {{.Dir}}{{end}}{{end}}' ./cmd/inkchannel) | sort -u |
  while read -r path dir; do
    [ "$path" = inkchannel ] && continue
    found=$(find "$dir" -maxdepth 2 -type f \( -ipath '*/licen[sc]e*' -o -iname 'copying*' \) -not -name '*.go' | sort)
    [ -n "$found" ] || { echo "no licence in $dir" >&2; exit 1; }
    printf '\n\n==== %s\n\n' "$path"
    while read -r f; do cat "$f"; done <<< "$found"
  done
  printf '\n\n==== Go\n\n'; cat "$(go env GOROOT)/LICENSE"
  printf '\n\n==== The Hershey fonts\n\n'; cat "$root/pipeline/letters/hershey/TERMS.txt"
  printf '\n\n==== three.js\n\n'; cat "$here/../desk/web/three-LICENSE.txt"
  for p in libopencv-core-dev libopencv-imgproc-dev; do
    printf '\n\n==== %s, linked in\n\n' "$p"; cat "/usr/share/doc/$p/copyright"
  done
} > "$share/doc/inkchannel/copyright"

# What it needs: the packages of the libraries that it loads.
install -d "$tree/debian"
printf 'Source: inkchannel\n\nPackage: inkchannel\nArchitecture: any\n' > "$tree/debian/control"
depends=$(cd "$tree" && dpkg-shlibdeps -O pkg/usr/bin/inkchannel | sed -n 's/^shlibs:Depends=//p')
install -d "$tree/pkg/DEBIAN"
cat > "$tree/pkg/DEBIAN/control" <<CONTROL
Package: inkchannel
Version: $version
Architecture: $(dpkg --print-architecture)
Maintainer: the inkchannel engineers <inkchannel@localhost>
Depends: $depends
Recommends: xdg-utils, poppler-utils
Section: graphics
Priority: optional
Installed-Size: $(du -sk "$tree/pkg" | cut -f1)
Description: photo of a pen drawing in, printable line sign out
 Turns a photo of a pen drawing with two reference dots into the parts of a
 sign that a flexible LED strip lies in: 3D-printable parts, a strip and wiring
 plan, and a page to review every step.
CONTROL
mkdir -p "$(dirname "$out")"
dpkg-deb --root-owner-group -Zxz --build "$tree/pkg" "$out" > /dev/null
echo "$out: $(du -h "$out" | cut -f1), needs $depends"
