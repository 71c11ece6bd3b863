//go:build external

package report

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func onDisk(t *testing.T, raw []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "packet.pdf")
	if err := os.WriteFile(file, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// The index names the page on which each part really begins, and every page says how many there are.
func TestPacketIndexIsTrue(t *testing.T) {
	pages := strings.Split(strings.TrimSuffix(tool(t, "pdftotext", "-layout", onDisk(t, packetFile(t, letterPDF, samplePacket(t))), "-"), "\f"), "\f")
	index := regexp.MustCompile(`(?m)^\s*(\d+\. [^\n]+?) {2,}(\d+)$`).FindAllStringSubmatch(pages[len(pages)-1], -1)
	if len(index) != 14 {
		t.Errorf("the index has %d parts, want 14:\n%s", len(index), pages[len(pages)-1])
	}
	for _, line := range index {
		page, err := strconv.Atoi(line[2])
		if err != nil || page < 1 || page > len(pages) || !strings.Contains(pages[page-1], line[1]) {
			t.Errorf("%q does not begin on page %s", line[1], line[2])
		}
	}
	for i, page := range pages {
		if want := "page " + strconv.Itoa(i+1) + " of " + strconv.Itoa(len(pages)); !strings.Contains(page, want) {
			t.Errorf("page %d does not say %q", i+1, want)
		}
	}
}

// Another program's reading of the paper finds no other buyer either.
func TestBuyersPaperNeverLeaksToPdftotext(t *testing.T) {
	x := rapid.Custom(drawLeak).Example(99)
	text := strings.ToLower(tool(t, "pdftotext", onDisk(t, packetFile(t, letterPDF, x.packet)), "-"))
	for _, s := range x.secrets {
		if strings.Contains(text, strings.ToLower(s)) {
			t.Errorf("the paper holds another buyer's %q", s)
		}
	}
	if !strings.Contains(text, strings.ToLower(x.buyer)) {
		t.Error("the paper does not name the buyer")
	}
}
