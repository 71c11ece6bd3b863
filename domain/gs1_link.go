package domain

import (
	"net/url"
	"slices"
	"strings"
)

// DigitalLink is an address that carries GS1 numbers: https://example.com/01/09521234543213/10/ABC.
type DigitalLink struct {
	Stem       string     // scheme, host and a path of one's own
	Path       []GS1Value // the key first, then its qualifiers in their order
	Attributes []GS1Value // after the question mark
}

// gs1Stem is the stem of the canonical form.
const gs1Stem = "https://id.gs1.org"

// Values are all elements, the key first.
func (l DigitalLink) Values() []GS1Value { return slices.Concat(l.Path, l.Attributes) }

// String writes the address; Canonical writes it with GS1's own stem, to compare two addresses of one thing.
func (l DigitalLink) String() string    { return l.under(l.Stem) }
func (l DigitalLink) Canonical() string { return l.under(gs1Stem) }

func (l DigitalLink) under(stem string) string {
	var b strings.Builder
	b.WriteString(stem)
	for _, v := range l.Path {
		b.WriteString("/" + v.AI + "/" + escapeGS1(v.Value))
	}
	for i, v := range l.Attributes {
		b.WriteByte("?&"[min(i, 1)])
		b.WriteString(v.AI + "=" + escapeGS1(v.Value))
	}
	return b.String()
}

// escapeGS1 leaves only letters, digits and - . _ ~ as they are; url.PathEscape and QueryEscape leave more.
func escapeGS1(s string) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for i := range len(s) {
		c := s[i]
		switch {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', strings.IndexByte("-._~", c) >= 0:
			b.WriteByte(c)
		default:
			b.Write([]byte{'%', hex[c>>4], hex[c&15]})
		}
	}
	return b.String()
}

// BuildDigitalLink puts elements into an address below a stem such as https://example.com/products. One of them must be
// a key; its qualifiers go into the path in their order and the rest after the question mark.
func BuildDigitalLink(stem string, values []GS1Value) (string, error) {
	l := DigitalLink{Stem: strings.TrimSuffix(stem, "/")}
	key := slices.IndexFunc(values, func(v GS1Value) bool { f, _ := gs1FormatOf(v.AI); return f.role == linkKey })
	if key < 0 {
		return "", gs1Refusal("An address needs a GS1 number that names the thing: (00), (01), (414), (417) or (8003).")
	}
	l.Path = []GS1Value{values[key]}
	rest := slices.Delete(slices.Clone(values), key, key+1)
	for _, ai := range l.order(rest) {
		if i := slices.IndexFunc(rest, func(v GS1Value) bool { return v.AI == ai }); i >= 0 {
			l.Path = append(l.Path, rest[i])
			rest = slices.Delete(rest, i, i+1)
		}
	}
	l.Attributes = rest
	if err := l.check(); err != nil {
		return "", err
	}
	return l.String(), nil
}

// order picks the order of qualifiers that a key may have: a third-party serial stands alone.
func (l DigitalLink) order(values []GS1Value) []string {
	f, _ := gs1FormatOf(l.Path[0].AI)
	for _, order := range slices.Backward(f.qualifiers) {
		if slices.ContainsFunc(values, func(v GS1Value) bool { return slices.Contains(order, v.AI) }) {
			return order
		}
	}
	return nil
}

// ParseDigitalLink reads an address and refuses what the URI syntax refuses [verified: GS1SE, traceability reference
// 2.5]. An address of one's own that carries no GS1 number is refused with these words; it is still a good address.
func ParseDigitalLink(s string) (DigitalLink, error) {
	var l DigitalLink
	rest, _, _ := strings.Cut(s, "#")
	rest, query, _ := strings.Cut(rest, "?")
	scheme, rest, ok := strings.Cut(rest, "://")
	if !ok || !slices.Contains([]string{"http", "https", "HTTP", "HTTPS"}, scheme) {
		return l, gs1Refusal("An address begins with https:// or http://, all in small or all in capital letters.")
	}
	host, path, ok := strings.Cut(rest, "/")
	if !ok {
		return l, gs1Refusal("This address carries no GS1 number.")
	}
	segments := strings.Split(path, "/")
	at := -1
	for i := len(segments) - 2; i >= 0; i -= 2 {
		if f, known := gs1FormatOf(segments[i]); known && f.role == linkKey {
			at = i
			break
		}
	}
	if at < 0 {
		return l, gs1Refusal("This address carries no GS1 number: no key with its value ends the path.")
	}
	l.Stem = strings.Join(append([]string{scheme + "://" + host}, segments[:at]...), "/")
	for ; at+1 < len(segments); at += 2 {
		value, err := url.PathUnescape(segments[at+1])
		if err != nil {
			return l, gs1Refusal("A percent sign in the path is not followed by two hexadecimal digits.")
		}
		l.Path = append(l.Path, GS1Value{segments[at], value})
	}
	if err := l.query(query); err != nil {
		return l, err
	}
	return l, l.check()
}

// query reads the attributes. Words such as linkType belong to others and are passed over; unknown numbers are refused.
func (l *DigitalLink) query(query string) error {
	for _, pair := range strings.FieldsFunc(query, func(r rune) bool { return r == '&' || r == ';' }) {
		name, raw, _ := strings.Cut(pair, "=")
		if name == "" || !allDigits(name) {
			continue
		}
		value, err := url.QueryUnescape(raw)
		if err != nil {
			return gs1Refusal("A percent sign after the question mark is not followed by two hexadecimal digits.")
		}
		l.Attributes = append(l.Attributes, GS1Value{name, value})
	}
	return nil
}

func (l DigitalLink) check() error {
	if err := checkGS1Stem(l.Stem); err != nil {
		return err
	}
	for _, v := range l.Values() {
		if err := checkGS1Value(v); err != nil {
			return err
		}
	}
	key, _ := gs1FormatOf(l.Path[0].AI)
	var path []string
	for _, v := range l.Path[1:] {
		path = append(path, v.AI)
	}
	if !inSomeOrder(key.qualifiers, path) {
		return gs1Refusal("Behind (%s) the path can't hold (%s) in this order.", l.Path[0].AI, strings.Join(path, ") ("))
	}
	for _, v := range l.Attributes {
		f, _ := gs1FormatOf(v.AI)
		switch {
		case f.role == linkNowhere || f.role == linkQualifier || f.role == linkKey:
			return gs1Refusal("(%s) %s can't stand after the question mark.", v.AI, f.title)
		case f.role == linkEither && fitsPath(key.qualifiers, path, v.AI):
			return gs1Refusal("(%s) %s belongs in the path, behind (%s).", v.AI, f.title, l.Path[0].AI)
		}
	}
	return checkGS1Company(l.Values())
}

// inSomeOrder reports that the identifiers are part of one of the orders, with some left out.
func inSomeOrder(orders [][]string, path []string) bool {
	if len(path) == 0 {
		return true
	}
	return slices.ContainsFunc(orders, func(order []string) bool {
		next := 0
		for _, ai := range order {
			if next < len(path) && path[next] == ai {
				next++
			}
		}
		return next == len(path)
	})
}

// fitsPath reports that an identifier could stand in the path beside the others.
func fitsPath(orders [][]string, path []string, ai string) bool {
	for i := 0; i <= len(path); i++ {
		if inSomeOrder(orders, slices.Insert(slices.Clone(path), i, ai)) {
			return true
		}
	}
	return false
}

// checkGS1Stem holds scheme, host and the path of one's own.
func checkGS1Stem(stem string) error {
	scheme, rest, ok := strings.Cut(stem, "://")
	if !ok || !slices.Contains([]string{"http", "https", "HTTP", "HTTPS"}, scheme) {
		return gs1Refusal("An address begins with https:// or http://, all in small or all in capital letters.")
	}
	host, _, _ := strings.Cut(rest, "/")
	u, err := url.Parse(stem)
	if host == "" || err != nil || u.Hostname() == "" || strings.ContainsAny(host, `_~?#@!$&'()*+,;=%`) || strings.ContainsAny(stem, "?#") {
		return gs1Refusal("%.80q is not an address of a host.", stem)
	}
	return nil
}
