#!/usr/bin/env bash
# Checks the app: types, unit tests, and that the committed built files are what the sources give.
set -euo pipefail
cd "$(dirname "$0")"
node installed.mjs || npm ci --no-audit --no-fund
if grep -q '"resolved"' package-lock.json; then
  echo "package-lock.json names where packages were fetched from; see .npmrc" >&2
  exit 1
fi
npx tsc --noEmit
npm test --silent
fresh=$(mktemp -d)
trap 'rm -rf "$fresh"' EXIT
node build.mjs --out "$fresh"
if ! diff -r "$fresh" dist; then
  echo "web/dist is not what the sources give: run npm run build in web/ and commit web/dist" >&2
  exit 1
fi
