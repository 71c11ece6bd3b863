package rig

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// Memory is what the kernel says of processes, in kB: proportional set size, so that shared pages count once.
type Memory struct{ Service, Database int64 }

// Memory reads the service's share and its private database's. It works on Linux only; elsewhere it is an error.
func (s *Service) Memory() (m Memory, err error) {
	if m.Service, err = proportional(s.PID()); err != nil {
		return m, err
	}
	for _, pid := range below(s.PID()) {
		kb, err := proportional(pid)
		if err != nil {
			continue // it ended meanwhile
		}
		m.Database += kb
	}
	return m, nil
}

func proportional(pid int) (int64, error) {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/smaps_rollup", pid))
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(raw)) {
		if rest, ok := strings.CutPrefix(line, "Pss:"); ok {
			return strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "kB")), 10, 64)
		}
	}
	return 0, fmt.Errorf("process %d: the kernel gives no Pss", pid)
}

// below lists all descendants of a process.
func below(pid int) (out []int) {
	parents := map[int][]int{}
	files, _ := filepath.Glob("/proc/[0-9]*/stat") // the pattern is well formed
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			continue
		}
		// The name stands in brackets and may hold anything; what follows is state and parent.
		_, rest, _ := strings.Cut(string(raw[strings.LastIndexByte(string(raw), ')'):]), " ")
		fields := strings.Fields(rest)
		child, _ := strconv.Atoi(filepath.Base(filepath.Dir(file)))
		if parent, err := strconv.Atoi(fields[1]); err == nil {
			parents[parent] = append(parents[parent], child)
		}
	}
	for queue := []int{pid}; len(queue) > 0; queue = queue[1:] {
		out, queue = append(out, parents[queue[0]]...), append(queue, parents[queue[0]]...)
	}
	return out
}
