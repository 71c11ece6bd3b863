package domain

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// LogValue is a value of a log entry as read by its field.
type LogValue struct {
	Text     string
	Texts    []string
	Quantity Quantity
	number   decimal.Decimal
}

// Word is the word of a choice or yes-no field; empty for what has none.
func (v LogValue) Word() string { return v.Text }

// Shown is the value as a person reads it.
func (v LogValue) Shown() string {
	switch {
	case !v.Quantity.IsZero():
		return v.Quantity.String()
	case len(v.Texts) > 0:
		return strings.Join(v.Texts, ", ")
	}
	return v.Text
}

// read reads a value strictly and notes what does not fit the field.
func (f *SheetField) read(raw json.RawMessage, today Date, p *Problems, at string) (v LogValue) {
	switch f.Type {
	case FieldQuantity:
		f.readQuantity(raw, p, at, &v)
	case FieldChoices, FieldPeople, FieldBeds, FieldLots, FieldNames:
		f.readList(raw, p, at, &v)
	default:
		if text, ok := textOf(raw); ok {
			v.Text = text
			f.checkText(&v, today, p, at)
		} else {
			p.Add(at, "Write a text in quotes here.")
		}
	}
	return v
}

func textOf(raw json.RawMessage) (text string, ok bool) {
	if !bytes.HasPrefix(bytes.TrimSpace(raw), []byte(`"`)) {
		return "", false
	}
	return text, json.Unmarshal(raw, &text) == nil
}

func (f *SheetField) readQuantity(raw json.RawMessage, p *Problems, at string, v *LogValue) {
	if !bytes.HasPrefix(bytes.TrimSpace(raw), []byte(`{`)) {
		p.Add(at, `Write a quantity here: {"value": "12.5", "unit": "%s"}.`, f.Unit)
		return
	}
	if err := json.Unmarshal(raw, &v.Quantity); err != nil {
		p.Add(at, "%s.", err)
		return
	}
	measure, _ := MeasureOf(f.Unit)
	v.Quantity.checkUnit(p, at+"/unit", []Measure{measure})
	p.Check(measure == Temperature || v.Quantity.Value.Sign() >= 0, at+"/value", "%s is less than nothing. Check the number.", v.Quantity)
	checkDigits(p, at+"/value", v.Quantity.Value)
}

// checkDigits keeps numbers to what a person reads off an instrument.
func checkDigits(p *Problems, at string, v decimal.Decimal) {
	p.Check(v.Abs().LessThan(decimal.New(1, 9)), at, "%s is too large. Check the number.", v)
	p.Check(v.Exponent() >= -6, at, "Write at most six digits after the point.")
}

func (f *SheetField) readList(raw json.RawMessage, p *Problems, at string, v *LogValue) {
	var items []json.RawMessage
	if !bytes.HasPrefix(bytes.TrimSpace(raw), []byte(`[`)) || json.Unmarshal(raw, &items) != nil {
		p.Add(at, "Write a list in brackets [ ] here.")
		return
	}
	p.Check(len(items) > 0, at, "The list is empty. Fill it, or leave the field out.")
	p.Check(len(items) <= 200, at, "That is too many; at most 200 fit.")
	for i, item := range items {
		here := at + "/" + itoa(i)
		text, ok := textOf(item)
		if !ok {
			p.Add(here, "Write a text in quotes here.")
			continue
		}
		p.Check(!slices.Contains(v.Texts, text), here, "This one is named twice.")
		v.Texts = append(v.Texts, text)
		f.checkItem(text, p, here)
	}
}

func (f *SheetField) checkItem(text string, p *Problems, at string) {
	switch f.Type {
	case FieldChoices:
		p.Check(f.takes(text), at, "%q is not one of: %s.", text, strings.Join(f.words(), ", "))
	case FieldPeople, FieldBeds:
		checkID(p, at, text)
	case FieldLots:
		if _, err := ParseCode(text); err != nil {
			p.Add(at, "%q is not the code of a lot. Copy it from the label.", text)
		}
	default:
		checkName(p, at, text)
	}
}

func checkID(p *Problems, at, text string) {
	if id, err := uuid.Parse(text); err != nil || id.String() != text {
		p.Add(at, "This is not an id of this book: an id is a UUID.")
	}
}

func (f *SheetField) checkText(v *LogValue, today Date, p *Problems, at string) {
	switch f.Type {
	case FieldNumber:
		n, err := ParseDecimal(v.Text)
		if err != nil {
			p.Add(at, "%s.", err)
			return
		}
		v.number = n
		checkDigits(p, at, n)
	case FieldYesNo, FieldChoice:
		p.Check(f.takes(v.Text), at, "%q is not one of: %s.", v.Text, strings.Join(f.words(), ", "))
	case FieldDate:
		if d, err := ParseDate(v.Text); err != nil {
			p.Add(at, "%s.", err)
		} else if !today.IsZero() {
			checkPlanDay(p, at, d, today)
		}
	case FieldTime:
		if t, err := time.Parse(time.RFC3339, v.Text); err != nil {
			p.Add(at, "Write the time with its offset, for example 2026-04-10T07:30:00-04:00.")
		} else if !today.IsZero() {
			checkDay(p, at, DateIn(t, time.UTC), today)
		}
	case FieldPerson:
		checkID(p, at, v.Text)
	default:
		p.Check(strings.TrimSpace(v.Text) != "", at, "This is empty. Fill it, or leave the field out.")
		checkText(p, at, v.Text, 2000)
	}
}

func (f *SheetField) words() []string {
	if f.Type == FieldYesNo {
		return []string{"yes", "no"}
	}
	words := make([]string, len(f.Choices))
	for i, c := range f.Choices {
		words[i] = c.Value
	}
	return words
}

// outOf reports whether the value is outside a limit of its field.
func (v LogValue) outOf(f *SheetField, l *SheetLimit) bool {
	switch f.Type {
	case FieldNumber:
		return l.out(v.number)
	case FieldQuantity:
		n, err := v.Quantity.In(f.Unit)
		return err == nil && l.out(n)
	}
	return slices.Contains(l.Is, v.Text) && v.Text != "" || slices.ContainsFunc(v.Texts, func(t string) bool { return slices.Contains(l.Is, t) })
}
