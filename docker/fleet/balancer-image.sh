#!/bin/sh
# Makes the image "balancer" from Debian's package haproxy, for machines that cannot pull one: docker/fleet/balancer-image.sh
set -eu
program=$(command -v haproxy)
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
# The program, the libraries that it names, and nothing else.
for file in "$program" $(ldd "$program" | grep -o '/[^ ]*'); do
  mkdir -p "$root$(dirname "$file")"
  cp -L "$file" "$root$file"
done
cat > "$root/Dockerfile" <<END
FROM scratch
COPY . /
USER 65532:65532
ENTRYPOINT ["$program", "-W", "-db", "-f", "/usr/local/etc/haproxy/haproxy.cfg"]
END
docker build -q -t balancer "$root" >/dev/null
