package domain

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/google/uuid"
)

// EntryVersion is the version of the entry's canonical form. The bytes of a version are frozen: a field may be added
// only as one that is left out when empty, and never renamed, retyped or removed. A test holds the bytes of a sample;
// when it fails the change is wrong, not the test.
const EntryVersion = 1

// Entry is one line of the farm's book. Its canonical JSON is what is stored, hashed and exported.
type Entry struct {
	Version   int             `json:"v"`
	FarmID    uuid.UUID       `json:"farm_id"`
	Seq       int64           `json:"seq"` // 1, 2, 3 … per farm, no gaps
	ID        uuid.UUID       `json:"id"`
	EntryKind string          `json:"kind"`
	RecordID  uuid.UUID       `json:"record_id"` // the record this entry is about
	Body      json.RawMessage `json:"body"`
	DoneBy    uuid.UUID       `json:"done_by"`
	TypedBy   uuid.UUID       `json:"typed_by"`
	DoneOn    Date            `json:"done_on"`          // farm-local day of the act
	DoneAt    time.Time       `json:"done_at,omitzero"` // instant of the act, where known
	EnteredAt time.Time       `json:"entered_at"`       // the book's own clock
	DeviceAt  time.Time       `json:"device_at,omitzero"`
	Reason    string          `json:"reason,omitempty"` // corrections, voids, late entries
	Request   *RequestMark    `json:"request,omitempty"`
}

// RequestMark lets a repeated request find its first answer.
type RequestMark struct {
	Key  string `json:"key"`
	Hash string `json:"hash"` // SHA-256 of the canonical request body, hex
}

// Canonical gives the entry's bytes by RFC 8785 (JSON canonicalization scheme).
func (e *Entry) Canonical() ([]byte, error) {
	raw, err := json.Marshal(e)
	if err != nil {
		return nil, err
	}
	return CanonicalJSON(raw)
}

// ParseEntry reads what Canonical wrote and refuses anything else, down to the order of the keys. The body may be a part of
// leaf, which has to stay as it is.
func ParseEntry(leaf []byte) (*Entry, error) {
	if e, ok := readCanonical(leaf); ok {
		return e, nil
	}
	return parseAgain(leaf)
}

// parseAgain reads an entry, writes it again, and compares.
func parseAgain(leaf []byte) (*Entry, error) {
	var e Entry
	dec := json.NewDecoder(bytes.NewReader(leaf))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&e); err != nil {
		return nil, fmt.Errorf("entry is not readable: %w", err)
	}
	if e.Version != EntryVersion {
		return nil, fmt.Errorf("entry %d is of version %d; this program reads version %d", e.Seq, e.Version, EntryVersion)
	}
	again, err := e.Canonical()
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(again, leaf) {
		return nil, fmt.Errorf("entry %d is not in canonical form", e.Seq)
	}
	return &e, nil
}

// CanonicalJSON rewrites JSON by RFC 8785: keys in UTF-16 order, no white space, the shortest escapes. Numbers must be
// integers below 2^53: the book holds no floats, quantities are decimal texts.
func CanonicalJSON(raw []byte) ([]byte, error) {
	if !utf8.Valid(raw) { // the decoder would put a replacement character in its place without a word
		return nil, fmt.Errorf("JSON is not valid UTF-8")
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	var v any
	if err := dec.Decode(&v); err != nil {
		return nil, err
	}
	if _, err := dec.Token(); err != io.EOF { // More would take a stray ] or } for an end
		return nil, fmt.Errorf("more than one JSON document")
	}
	var b bytes.Buffer
	if err := writeCanonical(&b, v); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func writeCanonical(b *bytes.Buffer, v any) error {
	switch x := v.(type) {
	case nil:
		b.WriteString("null")
	case bool:
		b.WriteString(strconv.FormatBool(x))
	case string:
		writeCanonicalString(b, x)
	case json.Number:
		n, err := x.Int64()
		if err != nil || n >= 1<<53 || n <= -(1<<53) {
			return fmt.Errorf("number %s is not an integer the book can hold; write quantities as text", x)
		}
		b.WriteString(strconv.FormatInt(n, 10))
	case []any:
		return writeCanonicalList(b, x)
	case map[string]any:
		return writeCanonicalObject(b, x)
	}
	return nil
}

func writeCanonicalList(b *bytes.Buffer, list []any) error {
	b.WriteByte('[')
	for i, item := range list {
		if i > 0 {
			b.WriteByte(',')
		}
		if err := writeCanonical(b, item); err != nil {
			return err
		}
	}
	b.WriteByte(']')
	return nil
}

func writeCanonicalObject(b *bytes.Buffer, m map[string]any) error {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool { return lessUTF16(keys[i], keys[j]) })
	b.WriteByte('{')
	for i, k := range keys {
		if i > 0 {
			b.WriteByte(',')
		}
		writeCanonicalString(b, k)
		b.WriteByte(':')
		if err := writeCanonical(b, m[k]); err != nil {
			return err
		}
	}
	b.WriteByte('}')
	return nil
}

// lessUTF16 orders as RFC 8785 section 3.2.3 asks: by UTF-16 code units, which differs from bytes for characters beyond
// the basic plane.
func lessUTF16(a, b string) bool {
	if ascii(a) && ascii(b) {
		return a < b
	}
	x, y := utf16.Encode([]rune(a)), utf16.Encode([]rune(b))
	for i := 0; i < len(x) && i < len(y); i++ {
		if x[i] != y[i] {
			return x[i] < y[i]
		}
	}
	return len(x) < len(y)
}

var shortEscapes = map[rune]string{'"': `\"`, '\\': `\\`, '\b': `\b`, '\f': `\f`, '\n': `\n`, '\r': `\r`, '\t': `\t`}

func writeCanonicalString(b *bytes.Buffer, s string) {
	b.WriteByte('"')
	plain := easy([]byte(s))
	b.WriteString(s[:plain])
	for _, r := range s[plain:] {
		if esc, ok := shortEscapes[r]; ok {
			b.WriteString(esc)
		} else if r < 0x20 {
			fmt.Fprintf(b, `\u%04x`, r)
		} else {
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
}

// Late reports by how many days an entry was written after the act.
func (e *Entry) Late(zone *time.Location) int {
	return DateIn(e.EnteredAt, zone).DaysSince(e.DoneOn)
}

// EntryTitle is a short name of an entry for messages: "entry 12 (application)".
func (e *Entry) EntryTitle() string {
	return fmt.Sprintf("entry %d (%s)", e.Seq, strings.ReplaceAll(e.EntryKind, "-", " "))
}
