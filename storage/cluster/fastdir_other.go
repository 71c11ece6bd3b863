//go:build !linux

package cluster

import "os"

// FastDir is where throw-away test clusters belong: the temporary folder.
func FastDir() string { return os.TempDir() }
