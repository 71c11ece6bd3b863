package rig

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// Processor is the processor time spent so far. Unlike times by the clock it says nearly the same on a crowded machine as on
// a quiet one.
type Processor struct{ Service, Database time.Duration }

// Since gives what was spent since an earlier reading.
func (p Processor) Since(before Processor) Processor {
	return Processor{p.Service - before.Service, p.Database - before.Database}
}

// tick is the kernel's unit of processor time, fixed at 100 a second for what it tells programs.
const tick = 10 * time.Millisecond

// Processor reads the time of the service and of its private database, with the connections that have ended. It works on
// Linux only; elsewhere it is an error.
func (s *Service) Processor() (p Processor, err error) {
	if p.Service, err = spent(s.PID(), 11, 12); err != nil {
		return p, err
	}
	for _, pid := range below(s.PID()) {
		took, err := spent(pid, 11, 12, 13, 14)
		if err != nil {
			continue // it ended meanwhile; its parent keeps its time
		}
		p.Database += took
	}
	return p, nil
}

// spent adds up fields of a process's line of figures, counted from its state on.
func spent(pid int, fields ...int) (sum time.Duration, err error) {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0, err
	}
	// The name stands in brackets and may hold anything.
	all := strings.Fields(string(raw[strings.LastIndexByte(string(raw), ')')+1:]))
	for _, f := range fields {
		n, err := strconv.ParseInt(all[f], 10, 64)
		if err != nil {
			return 0, err
		}
		sum += time.Duration(n) * tick
	}
	return sum, nil
}
