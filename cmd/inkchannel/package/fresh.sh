#!/usr/bin/env bash
# fresh.sh PACKAGE.deb: installs the package into a bare Debian tree by the container recipe's own
# steps, makes the demo's sign and opens review as an unprivileged user, uninstalls, and looks for
# what is left. It must be run as root.
set -euo pipefail
deb=$(realpath "$1")
here=$(cd "$(dirname "$0")" && pwd)
tree=$(mktemp -d)
port=8197
served=""
stop() { [ -z "$served" ] || pkill -f "inkchannel review tea.jpg --port $port" || true; served=""; }
trap 'stop; rm -rf --one-file-system "$tree"' EXIT
say() { printf '%4d s  %s\n' $SECONDS "$*"; }
in_tree() { env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/home/maker LANG=C.UTF-8 DEBIAN_FRONTEND=noninteractive \
  ${http_proxy:+http_proxy="$http_proxy"} ${https_proxy:+https_proxy="$https_proxy"} chroot "$@"; }
files() { (cd "$tree" && find . -xdev -not -path './tmp/*' -not -path './home/*' -not -path './var/cache/*' -not -path './var/lib/apt/*' \
  -not -path './var/lib/dpkg/*' -not -path './var/log/*' -not -path './proc/*' -not -path './dev/*' -not -path './run/*' | sort); }
size() { du -sxm --exclude=var/cache --exclude=var/lib/apt --exclude=tmp --exclude=home "$tree" | cut -f1; }

suite=$(. /etc/os-release && echo "$VERSION_CODENAME")
mmdebstrap --quiet --variant=minbase "$suite" "$tree"
cp /etc/resolv.conf "$tree/etc/resolv.conf"
before=$(size)
say "a bare $suite of $before MB"

cp "$deb" "$tree/tmp/inkchannel.deb"
sed -n 's/^RUN //p' "$here/Containerfile" | while read -r step; do in_tree "$tree" sh -ec "$step" > "$tree/tmp/step.log" 2>&1 || { cat "$tree/tmp/step.log"; exit 1; }; done
say "installed, $(($(size) - before)) MB more; $(in_tree "$tree" inkchannel --version)"
say "loads $(in_tree "$tree" sh -c 'ldd /usr/bin/inkchannel' | wc -l) shared libraries"

user="--userspec=maker:maker"
in_tree $user "$tree" sh -ec 'cd; inkchannel demo -o sign --quiet; test -s sign/sign.3mf; test -s sign/review.html; ls sign | wc -l' > "$tree/tmp/demo.log"
say "the demo's sign, $(cat "$tree/tmp/demo.log") files, made by an unprivileged user"
cp "$here/../demo.jpg" "$tree/home/maker/tea.jpg"
in_tree $user "$tree" sh -c "cd; exec inkchannel review tea.jpg --port $port" > "$tree/tmp/review.log" 2>&1 &
served=$!
for _ in $(seq 50); do grep -q http "$tree/tmp/review.log" && break; sleep 0.2; done
address=$(grep -o 'http://[^ ]*' "$tree/tmp/review.log" | head -1)
page=$(curl --noproxy '*' -fsS "$address") state=$(curl --noproxy '*' -fsS "${address}state")
[[ $page == *'<title>'* && $state == *'"Photo":"tea.jpg"'* ]] || { echo "review does not open: $state"; exit 1; }
say "review opens it at ${address%/*/}/"
stop
in_tree "$tree" sh -c 'for d in man/man1/inkchannel.1.gz bash-completion/completions/inkchannel applications/inkchannel.desktop; do test -s /usr/share/$d || echo "missing: $d"; done' # slim images leave out manuals

in_tree "$tree" sh -ec 'apt-get purge -y inkchannel && apt-get autoremove -y --purge' > "$tree/tmp/purge.log" 2>&1
left=$(files | grep -i inkchannel || true)
[ -z "$left" ] || { echo "left behind:"; echo "$left"; exit 1; }
say "uninstalled; nothing of it is left, and $(($(size) - before)) MB of the rest"
