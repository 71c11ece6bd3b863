package domain

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

//go:embed retention.json
var retentionFile []byte

// RetentionRule says how long records of some kinds are kept, and who says so. The book deletes nothing by itself; the
// rules are here so that a farm, and whoever asks it to delete something, sees what forbids it.
type RetentionRule struct {
	ID        string    `json:"id"`
	Kinds     []string  `json:"kinds" doc:"Kinds of records; * is all."`
	Years     int       `json:"years" doc:"0 is for ever."`
	From      string    `json:"from" enum:"creation,end of use"`
	Set       string    `json:"set,omitempty" doc:"Asked of farms that answer to this rule set; empty: of any that the rule covers."`
	Authority Authority `json:"authority"`
	Citation  string    `json:"citation"`
	Mark      string    `json:"mark"`
	CheckedOn Date      `json:"checked_on"`
	Says      LocalText `json:"says"`
}

var retentionRules = mustLoadRetention(retentionFile)

func mustLoadRetention(raw []byte) (out []RetentionRule) {
	dec := json.NewDecoder(strings.NewReader(string(raw)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&out); err != nil {
		panic(fmt.Errorf("retention.json: %w", err)) // the data is part of the program; a test loads it
	}
	return out
}

// RetentionRules lists the rules; of one kind when it is given.
func RetentionRules(kind string) (out []RetentionRule) {
	for _, r := range retentionRules {
		if kind == "" || slices.Contains(r.Kinds, "*") || slices.Contains(r.Kinds, kind) {
			out = append(out, r)
		}
	}
	return out
}

// KeepUntil gives the first day on which the rule no longer holds a record made on a day; zero when it always does, or
// while nobody said that the use has ended. A year from 29 February ends on 1 March.
func (r RetentionRule) KeepUntil(made Date) Date {
	if r.Years == 0 || r.From != "creation" {
		return Date{}
	}
	t := made.Time().AddDate(r.Years, 0, 0)
	return NewDate(t.Year(), t.Month(), t.Day())
}

// WhyNotDeleted says to somebody who wants a record gone which rules keep it, and what to do instead.
func WhyNotDeleted(kind string) string {
	var parts []string
	for _, r := range RetentionRules(kind) {
		span := "for ever"
		if r.Years > 0 {
			span = fmt.Sprintf("%d years from %s", r.Years, r.From)
		}
		parts = append(parts, span+" ("+r.Citation+")")
	}
	return fmt.Sprintf("Records are not deleted. A %s is kept %s, where the rule covers the farm. If it is wrong, correct it or void it with a reason: it stays readable and counts no more.",
		strings.ReplaceAll(kind, "-", " "), strings.Join(parts, "; "))
}
