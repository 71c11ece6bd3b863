#!/usr/bin/env bash
# Sets up whatever the tests need on a fresh machine and runs them all. Safe to run again.
set -euo pipefail
cd "$(dirname "$0")"

missing=()
have() { command -v "$1" >/dev/null 2>&1; }
have initdb || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || missing+=(postgresql)
have zbarimg || missing+=(zbar-tools)
have pdftoppm || missing+=(poppler-utils)
have chromium || missing+=(chromium)
have npm || missing+=(npm)
if [ ${#missing[@]} -gt 0 ]; then
  if have apt-get; then
    sudo=""
    [ "$(id -u)" = 0 ] || sudo="sudo"
    $sudo apt-get update -q
    $sudo env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "${missing[@]}"
  else
    echo "Install these first: ${missing[*]}" >&2
    exit 1
  fi
fi

echo "== format"
unformatted=$(gofmt -l $(git ls-files '*.go' 2>/dev/null || find . -name '*.go'))
if [ -n "$unformatted" ]; then
  echo "not gofmt-ed: $unformatted" >&2
  exit 1
fi
echo "== vet"
go vet ./...
go vet -tags external ./...
echo "== the phone app: types, tests, and that web/dist is what the source builds"
web/check.sh
echo "== tests"
go test -count=1 -timeout 30m ./...
echo "== tests that other programs judge: decoders, a PDF reader, a browser, published schemas"
schema="$PWD/../shared/reference/epcis/EPCISDocument.schema.json"
if [ -f "$schema" ]; then export CROFTMARK_EPCIS_SCHEMA="$schema"; fi
go test -count=1 -timeout 30m -tags external ./labels ./report ./domain ./web
go test -count=1 -timeout 30m -tags external -run Schema .
