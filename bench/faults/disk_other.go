//go:build !linux

package main

import (
	"context"
	"fmt"
)

// disks needs a small disk in memory, which only Linux gives here.
func (f *faults) disks(context.Context) error {
	fmt.Printf("%-8s %-6s a full disk is only tried on Linux\n", "disk", "UNRUN")
	return nil
}
