package cluster

import (
	"os/exec"
	"runtime"
	"strings"
)

// processState is what a process number from an earlier run stands for now.
type processState int

const (
	// gone: no such process.
	gone processState = iota
	// zombie: it has ended, but its parent has not yet asked for its result.
	zombie
	// foreign: the number now belongs to something else.
	foreign
	// ours: a server that works in our data folder.
	ours
)

// launch starts cmd and returns a channel that is closed when it has ended. The kernel
// sends the signal on our death when the starting thread ends, not the process, so one
// goroutine keeps its thread for the whole life of the child and never gives it back.
func launch(cmd *exec.Cmd) (<-chan struct{}, error) {
	started := make(chan error, 1)
	ended := make(chan struct{})
	go func() {
		runtime.LockOSThread()
		err := cmd.Start()
		started <- err
		if err != nil {
			return
		}
		// How it ended is in its log; that it ended is all we need here.
		_ = cmd.Wait()
		close(ended)
	}()
	if err := <-started; err != nil {
		return nil, err
	}
	return ended, nil
}

// output runs cmd to its end on one thread, for the same reason.
func output(cmd *exec.Cmd) ([]byte, error) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	return cmd.CombinedOutput()
}

// commandServes says whether a command line is that of a server of the data folder.
func commandServes(command, data string) bool {
	return strings.Contains(command, "postgres -D "+data+" ")
}
