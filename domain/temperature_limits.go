package domain

import (
	"bytes"
	"io"
)

// Limits of an imported logger file.
const (
	csvMostBytes   = 64 << 20
	csvLongestLine = 16 << 10
	csvMostRows    = 1_000_000
	csvMostColumns = 200
	// csvMostBad is how many bad rows are named; more are only counted.
	csvMostBad = 100
)

// boundedLines refuses a file that is too big or has a line too long to be a logger's, before it fills the memory.
type boundedLines struct {
	r          io.Reader
	most, read int
	line       int
}

func (b *boundedLines) Read(p []byte) (int, error) {
	n, err := b.r.Read(p)
	b.read += n
	if b.read > b.most {
		return 0, Refuse(CodeTooLarge, "Nothing imported", "The file is larger than %d MiB. Send it in parts.", b.most>>20)
	}
	for rest := p[:n]; ; {
		i := bytes.IndexByte(rest, '\n')
		if i < 0 {
			b.line += len(rest)
			break
		}
		if b.line+i > csvLongestLine {
			return 0, longLine()
		}
		b.line, rest = 0, rest[i+1:]
	}
	if b.line > csvLongestLine {
		return 0, longLine()
	}
	return n, err
}

func longLine() error {
	return Refuse(CodeTooLarge, "Nothing imported", "A line is longer than %d characters. This is not a logger's file.", csvLongestLine)
}
