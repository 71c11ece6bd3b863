package domain

import (
	"strings"
	"time"
)

// A PIN tells people apart on a phone that a farm has signed in. It is no password: it opens nothing from anywhere else.
const (
	pinShortest = 4
	pinLongest  = 8
)

// CheckPIN notes a PIN that is not 4 to 8 digits, or that a bystander would try first. What was typed is never repeated.
func CheckPIN(p *Problems, pointer, pin string) {
	digits := strings.Trim(pin, "0123456789") == ""
	if !digits || len(pin) < pinShortest || len(pin) > pinLongest {
		p.Add(pointer, "A PIN is %d to %d digits.", pinShortest, pinLongest)
		return
	}
	if steady(pin, 0) || steady(pin, 1) || steady(pin, -1) {
		p.Add(pointer, "That PIN is guessed at once: all digits alike, or one after the other. Choose another.")
	}
}

// steady reports whether each digit differs from the one before by the same step.
func steady(pin string, step int) bool {
	for i := 1; i < len(pin); i++ {
		if int(pin[i])-int(pin[i-1]) != step {
			return false
		}
	}
	return true
}

// PINTries is how many wrong tries in a row end a PIN: then the owner gives a new one.
const PINTries = 20

// PINDelay is how long a person's PIN rests after so many wrong tries in a row: nothing after the first two slips of the
// thumb, then 30 seconds, and twice as long each time up to an hour.
func PINDelay(failures int) time.Duration {
	if failures < 3 {
		return 0
	}
	return min(30*time.Second<<min(failures-3, 10), time.Hour)
}
