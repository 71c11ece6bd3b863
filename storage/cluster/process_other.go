//go:build !linux

package cluster

import (
	"os/exec"
	"strconv"
	"strings"
	"syscall"
)

// signalOnParentDeath has no counterpart outside Linux: a server whose Croftmark was
// killed goes on, and the next Start stops it.
func signalOnParentDeath(*syscall.SysProcAttr, syscall.Signal) {}

// inspect says what pid is now, seen from the data folder.
func inspect(pid int, data string) processState {
	out, err := exec.Command("ps", "-ww", "-o", "stat=", "-o", "command=", "-p", strconv.Itoa(pid)).Output()
	line := strings.TrimSpace(string(out))
	switch {
	case err != nil || line == "":
		return gone
	case strings.HasPrefix(line, "Z"):
		return zombie
	case commandServes(line, data):
		return ours
	}
	return foreign
}
