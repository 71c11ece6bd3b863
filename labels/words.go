package labels

import (
	"fmt"
	"strings"
)

// words are the few words that the label itself adds, in one language.
type words struct {
	hold, lot, cut, packed, net, bed string
	crateOf, crate                   string // with the numbers to fill in
}

var english = words{
	hold: "HOLD: DO NOT SHIP", lot: "Lot", cut: "Cut", packed: "Packed", net: "Net", bed: "Bed",
	crateOf: "Crate %d of %d", crate: "Crate %d",
}

var spanish = words{
	hold: "RETENIDO: NO ENVIAR", lot: "Lote", cut: "Corte", packed: "Empaque", net: "Neto", bed: "Cama",
	crateOf: "Caja %d de %d", crate: "Caja %d",
}

func wordsIn(language string) words {
	if language == "es" {
		return spanish
	}
	return english
}

// number says which crate this is, as far as it is known.
func (w words) number(n, of int) string {
	switch {
	case n <= 0:
		return ""
	case of <= 0:
		return fmt.Sprintf(w.crate, n)
	}
	return fmt.Sprintf(w.crateOf, n, of)
}

// named puts a word before a value, unless there is no value or it begins with that word: a bed may be called "Bed 4".
func named(word, value string) string {
	first, _, _ := strings.Cut(value, " ")
	if value == "" || strings.EqualFold(first, word) {
		return value
	}
	return word + " " + value
}
