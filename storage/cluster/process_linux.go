package cluster

import (
	"bytes"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// signalOnParentDeath has the kernel tell the child when we die, even by kill -9.
func signalOnParentDeath(attributes *syscall.SysProcAttr, s syscall.Signal) {
	attributes.Pdeathsig = s
}

// inspect says what pid is now, seen from the data folder.
func inspect(pid int, data string) processState {
	proc := "/proc/" + strconv.Itoa(pid)
	stat, err := os.ReadFile(proc + "/stat")
	if err != nil {
		return gone
	}
	// The name stands in brackets and may hold brackets itself; the state follows it.
	open, end := bytes.IndexByte(stat, '('), bytes.LastIndexByte(stat, ')')
	if open < 0 || end < open || end+2 >= len(stat) {
		return foreign
	}
	switch stat[end+2] {
	case 'Z', 'X':
		return zombie
	}
	if string(stat[open+1:end]) == "postgres" && worksIn(proc, data) {
		return ours
	}
	return foreign
}

// worksIn compares folders, not paths, so that links do not matter. In a container root
// may not be allowed to look at the folder of another account's process; its command line
// is open to all.
func worksIn(proc, data string) bool {
	folder, err := os.Stat(data)
	if err != nil {
		return false
	}
	if cwd, err := os.Stat(proc + "/cwd"); err == nil {
		return os.SameFile(cwd, folder)
	}
	command, err := os.ReadFile(proc + "/cmdline")
	return err == nil && commandServes(strings.ReplaceAll(string(command), "\x00", " "), data)
}
