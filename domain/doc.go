// Package domain is the trade: the nouns of a small produce farm, the rules that apply to them, and the judgements
// that follow. Everything here is a pure function of its arguments: no clock, no randomness, no files outside the
// embedded rule data, no database, no HTTP. Time and identity always come in as parameters, so that every judgement
// can be computed again, years later, from the book alone.
package domain
