package api

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
)

// Problem is the one shape of an error answer: RFC 9457, with all field errors at once and, for a refused harvest, the
// rules that spoke.
type Problem struct {
	Type      string              `json:"type" format:"uri" doc:"A URI ending in the code."`
	Title     string              `json:"title"`
	Status    int                 `json:"status"`
	Detail    string              `json:"detail" doc:"A sentence a grower can act on."`
	Errors    []domain.FieldError `json:"errors,omitempty"`
	Verdict   domain.Verdict      `json:"verdict,omitempty"`
	ClearOn   domain.Date         `json:"clear_on,omitzero"`
	Reasons   []domain.Reason     `json:"reasons,omitempty"`
	Caution   string              `json:"caution,omitempty"`
	RequestID string              `json:"request_id,omitempty" doc:"Name this when you ask for help."`

	after time.Duration // how long to wait before the next try
}

// unavailableFor is how long to wait for a database that is away: a failover takes seconds.
const unavailableFor = 2 * time.Second

// GetHeaders implements huma's errors with headers: a refusal for now says until when.
func (p *Problem) GetHeaders() http.Header {
	after := p.after
	if after <= 0 && p.Status == http.StatusServiceUnavailable {
		after = unavailableFor
	}
	if after <= 0 {
		return nil
	}
	return http.Header{"Retry-After": {strconv.Itoa(int(math.Ceil(after.Seconds())))}}
}

func (p *Problem) Error() string  { return p.Detail }
func (p *Problem) GetStatus() int { return p.Status }

// ContentType implements huma's filter: problems go out as application/problem+json.
func (p *Problem) ContentType(string) string { return "application/problem+json" }

// typeBase is the beginning of every problem's type. It names the kind of the problem and need not be fetched.
const typeBase = "https://croftmark.example/problems/"

var statusOf = map[domain.Code]int{
	domain.CodeInvalid:        http.StatusUnprocessableEntity,
	domain.CodeNotSignedIn:    http.StatusUnauthorized,
	domain.CodeNotAllowed:     http.StatusForbidden,
	domain.CodeNotFound:       http.StatusNotFound,
	domain.CodeIDReused:       http.StatusConflict,
	domain.CodeHarvestRefused: http.StatusConflict,
	domain.CodeLotHeld:        http.StatusConflict,
	domain.CodeNotBalanced:    http.StatusConflict,
	domain.CodeRuleRefused:    http.StatusConflict,
	domain.CodeTooLarge:       http.StatusRequestEntityTooLarge,
	domain.CodeTooMany:        http.StatusTooManyRequests,
	domain.CodeUnavailable:    http.StatusServiceUnavailable,
	domain.CodeInternal:       http.StatusInternalServerError,
}

// problemOf maps any error to what the caller may see. What is not a domain error is ours to mend: its text goes to the
// log and nowhere else.
func problemOf(ctx context.Context, err error) *Problem {
	id := requestID(ctx)
	var p *Problem
	if errors.As(err, &p) {
		p.RequestID = id
		return p
	}
	var e *domain.Error
	if !errors.As(err, &e) {
		slog.ErrorContext(ctx, "internal error", "request_id", id, "error", err)
		e = domain.Refuse(domain.CodeInternal, "Something went wrong here", "This is our fault, not yours. Nothing was written. Try again; if it stays, tell us the request number %s.", id)
	}
	p = &Problem{Type: typeBase + string(e.Code), Title: e.Title, Status: statusOf[e.Code], Detail: e.Detail, Errors: e.Fields, RequestID: id, after: e.After}
	if e.Judgement != nil {
		p.Verdict, p.ClearOn, p.Reasons, p.Caution = e.Judgement.Verdict, e.Judgement.ClearOn, e.Judgement.Reasons, domain.RecordHelper
	}
	return p
}

// codeForStatus is for errors that arise before a handler runs.
func codeForStatus(status int) domain.Code {
	switch status {
	case http.StatusUnauthorized:
		return domain.CodeNotSignedIn
	case http.StatusForbidden:
		return domain.CodeNotAllowed
	case http.StatusNotFound, http.StatusMethodNotAllowed:
		return domain.CodeNotFound
	case http.StatusRequestEntityTooLarge:
		return domain.CodeTooLarge
	case http.StatusTooManyRequests:
		return domain.CodeTooMany
	case http.StatusServiceUnavailable, http.StatusGatewayTimeout:
		return domain.CodeUnavailable
	}
	if status >= 500 {
		return domain.CodeInternal
	}
	return domain.CodeInvalid
}

// humaError takes over from huma: its errors become our problems, and the values a caller sent are never echoed back.
func humaError(status int, message string, errs ...error) huma.StatusError {
	if status < 400 || status == http.StatusNotModified {
		return &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: message}
	}
	code := codeForStatus(status)
	p := &Problem{Type: typeBase + string(code), Title: titles[code], Status: status, Detail: message}
	for _, err := range errs {
		var d *huma.ErrorDetail
		if errors.As(err, &d) {
			p.Errors = append(p.Errors, fieldError(d))
		} else if err != nil && code == domain.CodeInvalid {
			p.Errors = append(p.Errors, domain.FieldError{Pointer: "#", Detail: plainWords(err.Error())})
		}
	}
	if code == domain.CodeInternal {
		p.Detail = "This is our fault, not yours. Nothing was written."
	} else if len(p.Errors) > 0 {
		p.Detail = p.Errors[0].Detail
		if n := len(p.Errors); n > 1 {
			p.Detail = fmt.Sprintf("%d fields need another look. First: %s", n, p.Errors[0].Detail)
		}
	}
	return p
}

var titles = map[domain.Code]string{
	domain.CodeInvalid:     "Not written down: something needs another look",
	domain.CodeNotSignedIn: "Sign in first",
	domain.CodeNotAllowed:  "Not yours to do",
	domain.CodeNotFound:    "Not found",
	domain.CodeTooLarge:    "Too large",
	domain.CodeTooMany:     "Too many requests",
	domain.CodeUnavailable: "Not just now",
	domain.CodeInternal:    "Something went wrong here",
}

var (
	missing    = regexp.MustCompile(`^expected required property (\S+) to be present$`)
	arrayIndex = regexp.MustCompile(`\[(\d+)\]`)
)

// fieldError turns huma's location into a JSON pointer and its words into ours.
func fieldError(d *huma.ErrorDetail) domain.FieldError {
	place := arrayIndex.ReplaceAllString(d.Location, ".$1")
	place, isBody := strings.CutPrefix(place, "body")
	pointer := "#" + strings.ReplaceAll(place, ".", "/")
	if !isBody {
		pointer = "#/" + strings.ReplaceAll(place, ".", "/")
	}
	if m := missing.FindStringSubmatch(d.Message); m != nil {
		return domain.FieldError{Pointer: pointer + "/" + m[1], Detail: m[1] + " is missing. Give it."}
	}
	return domain.FieldError{Pointer: pointer, Detail: plainWords(d.Message)}
}

// plainWords puts the validator's messages into words for people. Go types never show.
func plainWords(message string) string {
	switch {
	case message == "unexpected property":
		return "There is no such field here. Check the spelling, or leave it out."
	case strings.HasPrefix(message, "expected string to be RFC 3339 date-time"):
		return "Write the time with its offset, for example 2026-04-10T07:30:00-04:00."
	case strings.HasPrefix(message, "expected string to be RFC 3339 date"):
		return "Write the day as YYYY-MM-DD, for example 2026-04-10."
	case strings.HasPrefix(message, "expected string to be RFC 4122 uuid"):
		return "This is not an id of this book: an id is a UUID."
	case strings.HasPrefix(message, "expected value to be one of"):
		return "Use one of" + strings.TrimPrefix(message, "expected value to be one of") + "."
	case strings.HasPrefix(message, "expected string to match pattern"): // only decimal numbers have one
		return "Write a plain number in quotes, such as \"12.5\"."
	case validatorWords[message] != "":
		return validatorWords[message]
	case strings.Contains(message, "Go ") || strings.Contains(message, "json:"):
		return "This can't be read here. Check what kind of value the field takes."
	}
	for prefix, words := range validatorLimits {
		if limit, ok := strings.CutPrefix(message, prefix); ok {
			return fmt.Sprintf(words, limit)
		}
	}
	return strings.ToUpper(message[:1]) + message[1:] + "."
}

// validatorWords and validatorLimits say in a grower's words what the validator says in its own.
var (
	validatorWords = map[string]string{
		"expected string":  "Write a text in quotes here.",
		"expected object":  "Write an object in braces { } here.",
		"expected array":   "Write a list in brackets [ ] here.",
		"expected boolean": "Write true or false here.",
		"expected integer": "Write a whole number here, without quotes.",
		"expected number":  "Write a number here, without quotes.",
	}
	validatorLimits = map[string]string{
		"expected array length >= ": "Give at least %s.",
		"expected array length <= ": "That is too many; at most %s fit.",
		"expected length >= ":       "Write at least %s character(s).",
		"expected length <= ":       "That is too long; at most %s characters fit.",
		"expected number >= ":       "The number must be %s or more.",
		"expected number <= ":       "The number must be %s or less.",
	}
)
