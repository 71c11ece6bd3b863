// Package api is the HTTP interface: routes, strict decoding, who is asking, and how errors are told. It is the only
// package that knows echo. Handlers decode, call storage once, and answer; there is no logic of the trade here.
package api
