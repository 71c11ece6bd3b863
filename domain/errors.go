package domain

import (
	"fmt"
	"strings"
	"time"
)

// Code says what kind of refusal an error is. The codes are part of the HTTP contract.
type Code string

// The codes of the contract; each maps to one HTTP status in package api.
const (
	CodeInvalid        Code = "invalid"
	CodeNotSignedIn    Code = "not-signed-in"
	CodeNotAllowed     Code = "not-allowed"
	CodeNotFound       Code = "not-found"
	CodeIDReused       Code = "id-reused"
	CodeHarvestRefused Code = "harvest-refused"
	CodeLotHeld        Code = "lot-held"
	CodeNotBalanced    Code = "does-not-balance"
	CodeRuleRefused    Code = "rule-refused"
	CodeTooLarge       Code = "too-large"
	CodeTooMany        Code = "too-many"
	CodeUnavailable    Code = "unavailable"
	CodeInternal       Code = "internal"
)

// Error is the one error type a caller is meant to read. Anything else that comes up is a fault of ours: it is logged
// and the caller sees only that something went wrong.
type Error struct {
	Code   Code
	Title  string
	Detail string       // one sentence a grower can act on
	Fields []FieldError // for CodeInvalid: every field that is wrong, at once
	// After says on CodeTooMany how long to wait before trying again.
	After time.Duration
	// Judgement is set on CodeHarvestRefused and CodeLotHeld: which rules spoke and from which records.
	Judgement *Judgement
}

// FieldError names one field by JSON pointer ("#/applied_on") and says what is wrong with it and how to put it right.
type FieldError struct {
	Pointer string `json:"pointer"`
	Detail  string `json:"detail"`
}

func (e *Error) Error() string {
	if len(e.Fields) == 0 {
		return string(e.Code) + ": " + e.Detail
	}
	parts := make([]string, len(e.Fields))
	for i, f := range e.Fields {
		parts[i] = f.Pointer + ": " + f.Detail
	}
	return string(e.Code) + ": " + strings.Join(parts, "; ")
}

// NotFound says that nothing of that kind carries that name. Things of other farms are not found either.
func NotFound(kind, name string) *Error {
	return &Error{Code: CodeNotFound, Title: "Not found", Detail: fmt.Sprintf("There is no %s %s in this farm's book.", kind, name)}
}

// Refuse gives an error of one code with a sentence.
func Refuse(code Code, title, format string, args ...any) *Error {
	return &Error{Code: code, Title: title, Detail: fmt.Sprintf(format, args...)}
}

// Problems collects every field error of a record, so that a person fixes all of them in one go.
type Problems struct {
	fields []FieldError
}

// Add notes that the field at the pointer ("/applied_on") is wrong.
func (p *Problems) Add(pointer, format string, args ...any) {
	p.fields = append(p.fields, FieldError{Pointer: "#" + pointer, Detail: fmt.Sprintf(format, args...)})
}

// Check notes a problem unless ok holds.
func (p *Problems) Check(ok bool, pointer, format string, args ...any) {
	if !ok {
		p.Add(pointer, format, args...)
	}
}

// Err is nil when nothing was noted, and otherwise one CodeInvalid error with all of it.
func (p *Problems) Err() error {
	if len(p.fields) == 0 {
		return nil
	}
	detail := p.fields[0].Detail
	if n := len(p.fields); n > 1 {
		detail = fmt.Sprintf("%d fields need another look. First: %s", n, detail)
	}
	return &Error{Code: CodeInvalid, Title: "Not written down: something needs another look", Detail: detail, Fields: p.fields}
}
