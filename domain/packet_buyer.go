package domain

import (
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/google/uuid"
)

// ForAudience is the packet as its audience may read it. Every paper and file is made from this.
func (p *Packet) ForAudience() *Packet {
	if p.Audience.Kind == ForAuthority {
		return p
	}
	return p.ForBuyer(p.Audience.CustomerID)
}

// ForBuyer gives a copy that one buyer may read: other buyers' names, contacts and papers are left out and counted, what
// they got stays in the sums. Where free text names another buyer, the words are struck out; a proof whose entry names
// one is left out, because its bytes can't be changed. The packet itself is not touched.
func (p *Packet) ForBuyer(id uuid.UUID) *Packet {
	strike := p.secretsFor(id)
	out := copied(reflect.ValueOf(p), strike).Interface().(*Packet)
	out.Audience.Kind, out.Audience.CustomerID = ForOneBuyer, id
	mine := func(customer uuid.UUID) bool { return customer == id || customer == uuid.Nil }
	w := &out.Withheld

	out.Customers = slices.DeleteFunc(out.Customers, func(c PacketCustomer) bool { return c.ID != id })
	w.Customers += len(p.Customers) - len(out.Customers)
	if buyer := out.Customer(id); buyer != nil {
		out.Audience.Name = buyer.Name
	}
	for _, m := range p.Moves {
		if m.CustomerID == id {
			continue
		}
		w.Moves++
		for _, l := range m.Lines {
			w.add(PacketWithheldLine{m.Kind, l.Lot, l.Quantity})
		}
	}
	out.Moves = slices.DeleteFunc(out.Moves, func(m PacketMove) bool { return m.CustomerID != id })
	out.Crates = slices.DeleteFunc(out.Crates, func(c PacketCrate) bool { return !mine(c.CustomerID) })
	w.Crates += len(p.Crates) - len(out.Crates)
	out.Corrections = slices.DeleteFunc(out.Corrections, func(c PacketCorrection) bool { return !mine(c.CustomerID) })
	out.LateEntries = slices.DeleteFunc(out.LateEntries, func(e PacketLateEntry) bool { return !mine(e.CustomerID) })
	w.Corrections += len(p.Corrections) - len(out.Corrections) + len(p.LateEntries) - len(out.LateEntries)
	out.Files, w.Files = nil, len(p.Files)
	out.Former = PacketFormer{}
	out.Proofs = nil
	for _, proof := range p.Proofs {
		if mine(proof.CustomerID) && strike.clean(proof.Data) && !p.mentionsOther(proof.Data, id) {
			out.Proofs = append(out.Proofs, proof)
		}
	}
	w.Proofs += len(p.Proofs) - len(out.Proofs)
	return out
}

// add sums lines of one kind and lot whose units can be added.
func (w *PacketWithheld) add(line PacketWithheldLine) {
	for i := range w.Lines {
		have := &w.Lines[i]
		if have.Kind != line.Kind || have.Lot != line.Lot {
			continue
		}
		if v, err := line.Quantity.In(have.Quantity.Unit); err == nil {
			have.Quantity.Value = have.Quantity.Value.Add(v)
			return
		}
	}
	w.Lines = append(w.Lines, line)
}

// mentionsOther finds the id of another customer, or of their shipment, in the bytes of an entry.
func (p *Packet) mentionsOther(data string, id uuid.UUID) bool {
	other := func(x uuid.UUID) bool { return x != id && x != uuid.Nil && strings.Contains(data, x.String()) }
	return slices.ContainsFunc(slices.Concat(p.Customers, p.Former.Customers), func(c PacketCustomer) bool { return other(c.ID) }) ||
		slices.ContainsFunc(p.Moves, func(m PacketMove) bool { return m.CustomerID != id && (other(m.CustomerID) || other(m.ID)) })
}

// A striker takes words out of text.
type striker []struckWord

// struckWord is one secret. The hint is a part that every text with the secret holds in lower case; looking for it first
// spares most texts the slower look.
type struckWord struct {
	hint string
	re   *regexp.Regexp
}

// struckOut stands where another buyer was named.
const struckOut = "[another buyer]"

func (s striker) strike(text string) string {
	lower := strings.ToLower(text)
	for _, w := range s {
		if !strings.Contains(lower, w.hint) {
			continue
		}
		for range 2 { // two neighbours share the blank between them, and a pass sees only one of the two
			text = w.re.ReplaceAllString(text, "${1}"+struckOut+"${2}")
		}
	}
	return text
}

func (s striker) clean(text string) bool { return s.strike(text) == text }

// secretsFor lists what must not reach a buyer: whatever tells or told who the others are, unless it is the buyer's own, the
// farm's, or the name of a crop or a lot.
func (p *Packet) secretsFor(id uuid.UUID) striker {
	open := p.openWords(id)
	seen := map[string]bool{}
	var words striker
	add := func(secret string, pattern func(string) string) {
		secret = strings.Join(strings.Fields(secret), " ")
		if key := strings.ToLower(secret); secret != "" && !open[key] && !seen[key] {
			seen[key] = true
			words = append(words, struckWord{hintOf(key), regexp.MustCompile(`(?i)` + pattern(secret))})
		}
	}
	for _, c := range slices.Concat(p.Customers, p.Former.Customers) {
		if c.ID == id {
			continue
		}
		for _, s := range []string{c.Name, c.Contact, c.Address, c.Email, c.GLN} {
			add(s, wholeWords)
		}
		for _, part := range addressParts(c.Address) {
			if part[0] >= '0' && part[0] <= '9' && len(part) > 5 { // the street; town and state are no secret
				add(part, wholeWords)
			}
		}
		add(c.Phone, digitsApart)
	}
	for _, m := range slices.Concat(p.Moves, p.Former.Moves) {
		if m.CustomerID != id {
			add(m.Reference.Number, func(s string) string { return paperNumber(m.Reference.Type, s) })
			add(m.ID.String(), wholeWords)
		}
	}
	slices.SortStableFunc(words, func(a, b struckWord) int { return len(b.re.String()) - len(a.re.String()) })
	return words
}

// openWords are the buyer's own and the farm's own words, which stay even if another buyer shares them.
func (p *Packet) openWords(id uuid.UUID) map[string]bool {
	open := map[string]bool{}
	add := func(words ...string) {
		for _, w := range words {
			open[strings.ToLower(strings.Join(strings.Fields(w), " "))] = true
		}
	}
	add(addressParts(p.Farm.Address)...)
	add(p.Farm.Name, p.Farm.Address, p.Farm.Phone, p.Farm.Contact, p.Farm.ContactPhone, p.Farm.Key, p.Farm.GLN, uuid.Nil.String(), "another", "buyer", "another buyer")
	for _, c := range p.Customers {
		if c.ID == id {
			add(c.Name, c.Contact, c.Address, c.Phone, c.Email, c.GLN)
			add(addressParts(c.Address)...)
		}
	}
	for _, m := range p.Moves {
		if m.CustomerID == id {
			add(m.Reference.Number, m.ID.String()) // it may have been somebody else's before a correction
		}
	}
	for _, l := range p.Lots {
		add(l.Code, l.Commodity, l.Variety, l.Product)
	}
	for _, c := range p.Crates {
		add(c.Code)
	}
	for _, b := range p.Beds {
		add(b.Name, b.Plot)
	}
	return open
}

func addressParts(address string) (parts []string) {
	for _, part := range strings.FieldsFunc(address, func(r rune) bool { return r == ',' || r == '\n' || r == ';' }) {
		if part = strings.TrimSpace(part); part != "" {
			parts = append(parts, part)
		}
	}
	return parts
}

// The patterns keep what stands before and after in groups 1 and 2, so that only whole words are struck out.
const (
	noLetterBefore = `(^|[^\pL\pN])`
	noLetterAfter  = `($|[^\pL\pN])`
)

// wholeWords matches the words with any white space between them.
func wholeWords(s string) string {
	var parts []string
	for _, w := range strings.Fields(s) {
		parts = append(parts, regexp.QuoteMeta(w))
	}
	return noLetterBefore + strings.Join(parts, `\s+`) + noLetterAfter
}

// digitsApart matches a phone number however it is written: its last ten digits with anything small between.
func digitsApart(s string) string {
	digits := strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, s)
	if len(digits) < 5 {
		return wholeWords(s)
	}
	const between = `[ ().\-/]*`
	return `(^|[^\pN])(?:\+?\d{1,3}` + between + `)?` + strings.Join(strings.Split(digits[max(0, len(digits)-10):], ""), between) + `($|[^\pN])`
}

// hintOf is a part of the secret that no way of writing it can lack: its last word, or one digit of a number that may be
// written apart.
func hintOf(secret string) string {
	words := strings.Fields(secret)
	last := words[len(words)-1]
	if digit := strings.LastIndexAny(secret, "0123456789"); digit >= 0 {
		return secret[digit : digit+1]
	}
	return last
}

// paperNumber matches a document's number. One of three characters or fewer would strike out amounts and days, so it is
// struck out only behind the name of the paper or "no".
func paperNumber(kind, s string) string {
	if len(s) > 3 {
		return wholeWords(s)
	}
	return `((?:` + regexp.QuoteMeta(strings.ReplaceAll(kind, "-", " ")) + `|invoice|order|bill|note|receipt|no|number|#)[ .:#]*)` + regexp.QuoteMeta(s) + noLetterAfter
}

// copied copies plain data deep and strikes words out of every text on the way. Codes, units and other words of a type
// of their own are no free text and stay.
func copied(v reflect.Value, strike striker) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			out.Set(reflect.New(v.Type().Elem()))
			out.Elem().Set(copied(v.Elem(), strike))
		}
	case reflect.Slice:
		if !v.IsNil() {
			out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
			for i := range v.Len() {
				out.Index(i).Set(copied(v.Index(i), strike))
			}
		}
	case reflect.Struct:
		out.Set(v) // takes along what is not exported: dates, decimals
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out.Field(i).Set(copied(v.Field(i), strike))
			}
		}
	case reflect.String:
		out.SetString(v.String())
		if v.Type() == reflect.TypeFor[string]() {
			out.SetString(strike.strike(v.String()))
		}
	default:
		out.Set(v)
	}
	return out
}
