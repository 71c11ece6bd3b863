package domain

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed sheets/*.json
var sheetFiles embed.FS

var builtInSheets = mustLoadSheets(sheetFiles)

func mustLoadSheets(files fs.FS) []LogSheet {
	sheets, err := loadSheets(files)
	if err != nil {
		panic(err) // the data is part of the program; a test loads it
	}
	return sheets
}

func loadSheets(files fs.FS) (out []LogSheet, err error) {
	names, err := fs.Glob(files, "sheets/*.json")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		raw, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		var sheets []LogSheet
		dec := json.NewDecoder(strings.NewReader(string(raw)))
		dec.DisallowUnknownFields()
		if err := dec.Decode(&sheets); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		out = append(out, sheets...)
	}
	return out, nil
}

// BuiltInSheets lists the sheets of the program, in the order of their files. The caller does not change them.
func BuiltInSheets() []LogSheet { return builtInSheets }

// BuiltInSheet finds a sheet of the program by its key.
func BuiltInSheet(key string) (*LogSheet, bool) {
	for i := range builtInSheets {
		if builtInSheets[i].Key == key {
			return &builtInSheets[i], true
		}
	}
	return nil, false
}
