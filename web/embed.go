// Package web is the phone app: TypeScript sources, and the built files that the service serves. The app is a client of
// the HTTP interface and knows nothing that a script could not know too. Its files are built with "npm run build" and
// committed, so that building the program needs no Node.js; check.sh tells whether they are fresh.
package web

import "embed"

// Files holds the built files under dist.
//
//go:embed dist
var Files embed.FS
