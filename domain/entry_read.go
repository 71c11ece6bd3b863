package domain

import (
	"bytes"
	"encoding/binary"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"
)

// reader reads an entry's canonical bytes in one pass, as Canonical writes them, and gives up at the first byte it is not
// sure of. A whole book is read with it when it is verified; ParseEntry settles what it gave up on by writing the entry
// again and comparing.
type reader struct {
	b    []byte
	lost bool
}

// deepest is how deep lists and objects may lie in each other before the reader gives up.
const deepest = 64

// readCanonical reads an entry that is surely in canonical form; ok says whether it is sure.
func readCanonical(leaf []byte) (e *Entry, ok bool) {
	r := &reader{b: leaf}
	e = &Entry{}
	r.word(`{"body":`)
	e.Body = r.object()
	if r.next(`,"device_at":`) {
		e.DeviceAt = r.instant()
	}
	if r.next(`,"done_at":`) {
		e.DoneAt = r.instant()
	}
	r.word(`,"done_by":`)
	e.DoneBy = r.id()
	r.word(`,"done_on":`)
	e.DoneOn = r.day()
	r.word(`,"entered_at":`)
	e.EnteredAt = r.instant()
	r.word(`,"farm_id":`)
	e.FarmID = r.id()
	r.word(`,"id":`)
	e.ID = r.id()
	r.word(`,"kind":`)
	e.EntryKind = string(r.plain())
	if r.next(`,"reason":`) {
		e.Reason = string(r.plain())
		r.lost = r.lost || e.Reason == ""
	}
	r.word(`,"record_id":`)
	e.RecordID = r.id()
	if r.next(`,"request":{"hash":`) {
		e.Request = &RequestMark{Hash: string(r.plain())}
		r.word(`,"key":`)
		e.Request.Key = string(r.plain())
		r.word(`}`)
	}
	r.word(`,"seq":`)
	e.Seq = r.whole()
	r.word(`,"typed_by":`)
	e.TypedBy = r.id()
	r.word(`,"v":1}`)
	e.Version = EntryVersion
	return e, !r.lost && len(r.b) == 0
}

// next takes the text if it comes next.
func (r *reader) next(text string) bool {
	if r.lost || len(r.b) < len(text) || string(r.b[:len(text)]) != text {
		return false
	}
	r.b = r.b[len(text):]
	return true
}

func (r *reader) word(text string) { r.lost = !r.next(text) || r.lost }

// plain takes a text without escapes and gives what is between its quotes.
func (r *reader) plain() []byte {
	whole := r.b
	if escaped := r.text(); escaped || r.lost {
		r.lost = true
		return nil
	}
	return whole[1 : len(whole)-len(r.b)-1]
}

// text takes a text in its shortest form and tells whether anything in it is escaped.
func (r *reader) text() (escaped bool) {
	if len(r.b) == 0 || r.b[0] != '"' {
		r.lost = true
		return false
	}
	wide := false
	for i := 1 + easy(r.b[1:]); i < len(r.b); i++ {
		switch c := r.b[i]; {
		case c == '"':
			r.lost = r.lost || wide && !utf8.Valid(r.b[1:i])
			r.b = r.b[i+1:]
			return escaped
		case c == '\\':
			// Control characters that have no short form are for ParseEntry to settle.
			if i++; i >= len(r.b) || bytes.IndexByte([]byte(`"\bfnrt`), r.b[i]) < 0 {
				r.lost = true
				return true
			}
			escaped = true
		case c < 0x20:
			r.lost = true
			return escaped
		case c >= utf8.RuneSelf:
			wide = true
		}
	}
	r.lost = true
	return escaped
}

// easy counts bytes at the start that mean themselves in a text, eight at a time: ASCII but for the quote, the backslash
// and control characters. It may stop up to seven bytes early.
func easy(b []byte) (n int) {
	const ones, highs = 0x0101010101010101, 0x8080808080808080
	for ; n+8 <= len(b); n += 8 {
		x := binary.LittleEndian.Uint64(b[n:])
		quote, backslash := x^('"'*ones), x^('\\'*ones)
		// A byte is zero, or below 0x20, when taking one, or 0x20, from it borrows from its high bit. A borrow into the
		// next byte only makes that one look hard too, and the first hard byte is always a true one.
		if (x|(x-0x20*ones)|(quote-ones)|(backslash-ones))&highs != 0 {
			break
		}
	}
	return n
}

// whole takes a number that is not negative and far below 2^53.
func (r *reader) whole() (n int64) {
	i := 0
	for ; i < len(r.b) && '0' <= r.b[i] && r.b[i] <= '9'; i++ {
		n = n*10 + int64(r.b[i]-'0')
		if i == 15 {
			break
		}
	}
	if i == 0 || i == 15 || i > 1 && r.b[0] == '0' {
		r.lost = true
		return 0
	}
	r.b = r.b[i:]
	return n
}

// id takes an id in its one canonical form: small letters, and hyphens after 4, 6, 8 and 10 bytes.
func (r *reader) id() (id uuid.UUID) {
	text := r.plain()
	if len(text) != 36 {
		r.lost = true
		return id
	}
	at := 0
	for i := range id {
		if i == 4 || i == 6 || i == 8 || i == 10 {
			r.lost = r.lost || text[at] != '-'
			at++
		}
		high, low := nibble(text[at]), nibble(text[at+1])
		r.lost = r.lost || high|low > 0xf
		id[i], at = high<<4|low, at+2
	}
	return id
}

// nibble reads a digit of base sixteen in a small letter; above 0xf it is none.
func nibble(c byte) byte {
	switch {
	case '0' <= c && c <= '9':
		return c - '0'
	case 'a' <= c && c <= 'f':
		return c - 'a' + 10
	}
	return 0xff
}

func (r *reader) day() Date {
	text := r.plain()
	d, err := ParseDate(string(text))
	r.lost = r.lost || err != nil || d.IsZero() || d.String() != string(text)
	return d
}

func (r *reader) instant() (at time.Time) {
	whole := r.b
	text := r.plain()
	if r.lost {
		return at
	}
	err := at.UnmarshalJSON(whole[:len(text)+2])
	var again [len(time.RFC3339Nano)]byte
	r.lost = err != nil || at.IsZero() || string(at.AppendFormat(again[:0], time.RFC3339Nano)) != string(text)
	return at
}

// object takes an object and gives its bytes.
func (r *reader) object() []byte {
	whole := r.b
	if len(whole) == 0 || whole[0] != '{' {
		r.lost = true
		return nil
	}
	r.value(0)
	return whole[: len(whole)-len(r.b) : len(whole)-len(r.b)]
}

func (r *reader) value(depth int) {
	if r.lost || len(r.b) == 0 || depth > deepest {
		r.lost = true
		return
	}
	switch c := r.b[0]; c {
	case '"':
		r.text()
	case '{':
		r.members(depth)
	case '[':
		r.items(depth)
	case 't':
		r.word("true")
	case 'f':
		r.word("false")
	case 'n':
		r.word("null")
	case '-':
		r.b = r.b[1:]
		r.lost = r.whole() == 0 || r.lost
	default:
		r.whole()
	}
}

// members takes the members of an object. Their names are in order, and only those in ASCII are sure to be.
func (r *reader) members(depth int) {
	r.word("{")
	if r.next("}") {
		return
	}
	var last []byte
	for first := true; !r.lost; first = false {
		name := r.plain()
		r.lost = r.lost || !first && bytes.Compare(last, name) >= 0 || !ascii(name)
		last = name
		r.word(":")
		r.value(depth + 1)
		if r.next("}") {
			return
		}
		r.word(",")
	}
}

func (r *reader) items(depth int) {
	r.word("[")
	if r.next("]") {
		return
	}
	for !r.lost {
		r.value(depth + 1)
		if r.next("]") {
			return
		}
		r.word(",")
	}
}

func ascii[T string | []byte](text T) bool {
	for i := range len(text) {
		if text[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}
