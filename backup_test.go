package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Copies are made, read back, restored for a test, and only the newest kept; other files stay.
func TestBackup(t *testing.T) {
	data, dir := dataFolder(t), t.TempDir()
	if _, err := command(t, "init", "--data", data, "--farm", "Fern Bank", "--time-zone", "America/New_York", "--owner", "Ola Owner"); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "book-of-mine.zip")
	if err := os.WriteFile(other, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	copies := func() []string {
		t.Helper()
		list, err := filepath.Glob(filepath.Join(dir, "book-*Z.zip"))
		if err != nil {
			t.Fatal(err)
		}
		return list
	}
	for n, args := range [][]string{{"--keep", "2", "--try"}, {"--keep", "2"}, {"--keep", "2"}} {
		out, err := command(t, append([]string{"backup", dir, "--data", data}, args...)...)
		if err != nil || !strings.Contains(out, "2 entries copied to "+dir) {
			t.Fatalf("backup: %q (%v)", out, err)
		}
		if got := len(copies()); got != min(n+1, 2) {
			t.Errorf("after %d backups %d copies", n+1, got)
		}
	}
	newest := copies()[1]
	if out, err := command(t, "verify", newest); err != nil || !strings.Contains(out, "2 entries hold") {
		t.Errorf("verify of a copy: %q (%v)", out, err)
	}
	// A copy is a book that another folder takes.
	if out, err := command(t, "restore", newest, "--data", dataFolder(t)); err != nil || !strings.Contains(out, "2 entries restored") {
		t.Errorf("restore of a copy: %q (%v)", out, err)
	}
	if _, err := os.Stat(other); err != nil {
		t.Errorf("another file: %v", err)
	}
	for _, args := range [][]string{{"backup"}, {"backup", dir, "--keep", "0"}, {"serve", "--backup", dir, "--backup-every", "1s"}} {
		if _, err := command(t, append(args, "--data", data)...); err == nil {
			t.Errorf("%v was taken", args)
		}
	}

	// A running service does it by itself, and stops while it does.
	for _, path := range copies() {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
	}
	p := start(t, "serve", "--data", data, "--listen", "127.0.0.1:0", "--backup", dir)
	p.address()
	for end := time.Now().Add(30 * time.Second); len(copies()) == 0 && time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
	}
	if len(copies()) != 1 {
		t.Errorf("%d copies by the service", len(copies()))
	}
	if err := p.stop(); err != nil {
		t.Errorf("stopped with %v", err)
	}
}
