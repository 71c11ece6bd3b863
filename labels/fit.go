package labels

import "strings"

// lineHeight is the height of a line in ems.
const lineHeight = inkAbove + inkBelow

// A fitted text is lines of one size that stay inside the box they were fitted into.
type fitted struct {
	lines []string
	em    float64 // dots
}

// fit sets a text as large as a box of width and height dots allows, on up to maxLines lines. It shrinks down to least
// and then shortens with an ellipsis. A least of 0 never shortens: for codes and dates, which are worthless in part.
func fit(s string, f *typeface, width, height float64, maxLines int, least float64) fitted {
	best := fitted{}
	for n := 1; n <= maxLines; n++ {
		lines := balance(s, f, n)
		widest := 0.0
		for _, line := range lines {
			widest = max(widest, f.width(line))
		}
		em := min(height/lineHeight/float64(len(lines)), width/widest)
		if em > best.em {
			best = fitted{lines, em}
		}
	}
	least = min(least, height/lineHeight)
	if best.em < least {
		return fitted{[]string{shorten(s, f, width/least)}, least}
	}
	return best
}

// balance breaks a text at spaces into up to n lines whose widest is as narrow as possible. A text of fewer words
// comes back in fewer lines.
func balance(s string, f *typeface, n int) []string {
	words := strings.Fields(s)
	if n <= 1 || len(words) < 2 {
		return []string{s}
	}
	var best []string
	bestWidth := 0.0
	for i := 1; i < len(words); i++ {
		head, tail := strings.Join(words[:i], " "), balance(strings.Join(words[i:], " "), f, n-1)
		widest := f.width(head)
		for _, line := range tail {
			widest = max(widest, f.width(line))
		}
		if best == nil || widest < bestWidth {
			best, bestWidth = append([]string{head}, tail...), widest
		}
	}
	return best
}

const ellipsis = "…"

// shorten cuts a line to a width in ems and marks the cut.
func shorten(s string, f *typeface, width float64) string {
	if f.width(s) <= width {
		return s
	}
	letters := []rune(s)
	for len(letters) > 0 && f.width(string(letters)+ellipsis) > width {
		letters = letters[:len(letters)-1]
	}
	return strings.TrimRight(string(letters), " ,.") + ellipsis
}
