package domain

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

// DailyLetter is the message of one day. As JSON it is what a webhook receives.
type DailyLetter struct {
	Kind     string    `json:"kind"` // "due"
	ID       uuid.UUID `json:"message_id"`
	FarmID   uuid.UUID `json:"farm_id"`
	Farm     string    `json:"farm"`
	On       Date      `json:"on"`
	SentAt   time.Time `json:"sent_at"`
	Test     bool      `json:"test,omitempty"`
	AskedBy  string    `json:"asked_by"`
	Language string    `json:"language"`
	Due      []Due     `json:"due"`
	Caution  string    `json:"caution"`

	To     DailyMessage `json:"-"`
	Secret string       `json:"-"` // signs a webhook
}

// JSON gives what a webhook receives.
func (l DailyLetter) JSON() ([]byte, error) {
	l.Kind, l.Caution = "due", l.words(LocalText{En: RecordHelper, Es: RecordHelperEs})
	if l.Due == nil {
		l.Due = []Due{}
	}
	return json.Marshal(l)
}

func (l DailyLetter) words(t LocalText) string { return t.In(l.Language) }

// Text gives subject and text of the letter as an e-mail, in its language. It does not say what may be cut: that is asked of
// the book at the bed, not of a letter of the morning.
func (l DailyLetter) Text() (subject, body string) {
	late := 0
	for _, d := range l.Due {
		if d.Overdue {
			late++
		}
	}
	farm := strings.Join(strings.Fields(l.Farm), " ")
	subject = fmt.Sprintf(l.words(LocalText{En: "%s: %d due, %d late", Es: "%s: %d pendientes, %d atrasados"}), farm, len(l.Due), late)
	var b strings.Builder
	line := func(t LocalText, values ...any) { fmt.Fprintf(&b, l.words(t)+"\n", values...) }
	if l.Test {
		subject = l.words(LocalText{En: "Test. ", Es: "Prueba. "}) + subject
		line(LocalText{En: "This is a test that was asked for.\n", Es: "Esta es una prueba que se pidió.\n"})
	}
	line(LocalText{En: "What is due at %s on %s:", Es: "Lo pendiente en %s el %s:"}, farm, l.On)
	for _, d := range l.Due {
		b.WriteString("\n- " + d.On.String() + "  " + l.words(d.Text) + "\n")
		if d.Overdue {
			line(LocalText{En: "  Late.", Es: "  Atrasado."})
		}
		b.WriteString("  " + d.Asker(l.Language) + "\n")
	}
	if len(l.Due) == 0 {
		line(LocalText{En: "\nNothing, by what is in the book.", Es: "\nNada, según lo que está en el libro."})
	}
	line(LocalText{En: "\nWhether a bed may be cut is asked of the book when you stand there, not of this letter.",
		Es: "\nSi se puede cosechar una cama se pregunta al libro cuando se está allí, no a esta carta."})
	line(LocalText{En: RecordHelper, Es: RecordHelperEs})
	line(LocalText{En: "\n%s asked for this message, every day from %d:00. They or the owner can end it.",
		Es: "\n%s pidió este mensaje, cada día desde las %d:00. Esa persona o la dueña o el dueño pueden terminarlo."}, l.AskedBy, l.To.Hour)
	return subject, b.String()
}

// Asker says who asks for a duty, so that a custom never looks like a law.
func (d Due) Asker(language string) string {
	words := map[Authority]LocalText{Law: {En: "Law", Es: "Ley"}, Certifier: {En: "Certifier", Es: "Certificadora"},
		Buyer: {En: "Buyer", Es: "Comprador"}, Guidance: {En: "Guidance", Es: "Orientación"}, FarmRule: {En: "The farm", Es: "La granja"}}
	return words[d.Asks.Authority].In(language) + ": " + d.Asks.Citation
}

// FailureText gives why a letter was not sent, short and on one line, as its person reads it.
func FailureText(err error) string {
	text := []rune(strings.Join(strings.Fields(err.Error()), " "))
	return string(text[:min(len(text), 300)])
}
