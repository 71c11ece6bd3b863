package cluster

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"
)

// ErrNotRunning is wrapped by Attach when no Croftmark holds the folder.
var ErrNotRunning = errors.New("no Croftmark is running there")

// attachPatience covers the time in which the other Croftmark is still starting.
const attachPatience = 15 * time.Second

// Attach finds the server of another Croftmark that holds dataDir, so that a command can
// work beside a running service. It asks nothing of the other process and stops nothing.
func Attach(ctx context.Context, dataDir string) (*Address, error) {
	folder, err := resolve(dataDir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: %w", dataDir, ErrNotRunning)
	}
	if err != nil {
		return nil, err
	}
	pid, err := holder(folder)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, attachPatience)
	defer cancel()
	for {
		at, err := answering(ctx, folder)
		if err == nil {
			return at, nil
		}
		if errors.Is(err, fs.ErrPermission) {
			return nil, otherAccount(folder)
		}
		if pause(ctx, 20*time.Millisecond) != nil {
			return nil, sentence("Croftmark (process %d) is using %s, but its database does not answer: %w", pid, folder, err)
		}
	}
}

// answering takes the socket from the server's own file: the other process may have been
// started with another temporary folder than this one.
func answering(ctx context.Context, folder string) (*Address, error) {
	file, err := readPIDFile(filepath.Join(folder, "postgres"))
	if err != nil {
		return nil, err
	}
	if !file.ready {
		return nil, errors.New("it is still starting")
	}
	at := &Address{socket: file.socket}
	return at, at.ping(ctx)
}
