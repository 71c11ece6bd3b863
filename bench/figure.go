package main

import (
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"text/tabwriter"
	"time"
)

// figure is one thing measured, with the floor that was measured beside it.
type figure struct {
	What  string  `json:"what"`
	Unit  string  `json:"unit"`
	Value float64 `json:"value"`
	// Floor is the same work without us, and FloorIs says what that was. Without a floor both are empty.
	Floor   float64 `json:"floor,omitempty"`
	FloorIs string  `json:"floor_is,omitempty"`
	// Ratio is value by floor. Target is what the ratio should be: "≥ 0.6" for rates, "≤ 1.5" for times; or it speaks of the
	// value itself.
	Ratio  float64 `json:"ratio,omitempty"`
	Target string  `json:"target,omitempty"`
}

// report is all figures of a run, and where they were measured.
type report struct {
	Machine machine  `json:"machine"`
	Figures []figure `json:"figures"`
}

type machine struct {
	Date       string `json:"date"`
	CPU        string `json:"cpu"`
	Cores      int    `json:"cores"`
	MemoryGiB  string `json:"memory"`
	Go         string `json:"go"`
	PostgreSQL string `json:"postgresql"`
	Load       string `json:"load_at_start"` // other work on the machine, from the kernel
}

func newReport() report {
	return report{Machine: machine{Date: time.Now().Format("2006-01-02"), CPU: procLine("/proc/cpuinfo", "model name"), Cores: runtime.NumCPU(),
		MemoryGiB: procLine("/proc/meminfo", "MemTotal"), Go: runtime.Version(), Load: firstWord("/proc/loadavg")}}
}

// procLine reads one value of a file of the kernel; where there is no such file it is empty.
func procLine(file, name string) string {
	raw, err := os.ReadFile(file)
	if err != nil {
		return ""
	}
	for line := range strings.Lines(string(raw)) {
		if rest, ok := strings.CutPrefix(line, name); ok {
			return strings.TrimSpace(strings.TrimLeft(rest, " \t:"))
		}
	}
	return ""
}

func firstWord(file string) string {
	raw, err := os.ReadFile(file)
	if err != nil {
		return ""
	}
	word, _, _ := strings.Cut(string(raw), " ")
	return word
}

// floor is what a figure is held against.
type floor struct {
	value float64
	is    string
}

// add notes a figure and shows it at once.
func (r *report) add(what, unit string, value float64, under floor, target string) {
	f := figure{What: what, Unit: unit, Value: value, Floor: under.value, FloorIs: under.is, Target: target}
	if under.value > 0 {
		f.Ratio = value / under.value
	}
	r.Figures = append(r.Figures, f)
	fmt.Fprintf(os.Stderr, "  %s: %s %s (floor %s, ratio %s) %s\n", what, short(value), unit, short(under.value), short(f.Ratio), target)
}

// table prints all figures.
func (r *report) table(out io.Writer) {
	m := r.Machine
	fmt.Fprintf(out, "%s, %s, %d cores, %s, %s, %s, load average at the start %s\n\n", m.Date, m.CPU, m.Cores, m.MemoryGiB, m.Go, m.PostgreSQL, m.Load)
	w := tabwriter.NewWriter(out, 0, 0, 1, ' ', 0)
	fmt.Fprintln(w, "| figure\t| value\t| floor\t| ratio\t| target\t| floor is\t|")
	fmt.Fprintln(w, "| ---\t| ---\t| ---\t| ---\t| ---\t| ---\t|")
	for _, f := range r.Figures {
		fmt.Fprintf(w, "| %s\t| %s %s\t| %s\t| %s\t| %s\t| %s\t|\n", f.What, short(f.Value), f.Unit, short(f.Floor), short(f.Ratio), f.Target, f.FloorIs)
	}
	w.Flush() // to standard output; its error would have nowhere to go
}

// short writes a number with three digits that count.
func short(v float64) string {
	switch {
	case v == 0:
		return ""
	case v >= 100:
		return fmt.Sprintf("%.0f", v)
	case v >= 10:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2f", v)
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
