// Package rig runs the program as a process of its own, the way a farm runs it, and speaks to it over HTTP. The benchmark
// and the fault program share it. It measures nothing and judges nothing.
package rig

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"croftmark/storage/cluster"
)

// Program is a built copy of the program.
type Program struct{ Path string }

// Build compiles the program of this checkout into a folder.
func Build(ctx context.Context, folder string) (Program, error) {
	p := Program{filepath.Join(folder, "croftmark")}
	out, err := exec.CommandContext(ctx, "go", "build", "-o", p.Path, "croftmark").CombinedOutput()
	if err != nil {
		return p, fmt.Errorf("build the program: %w\n%s", err, out)
	}
	return p, nil
}

// Run runs a command of the program to its end and gives what it printed.
func (p Program) Run(ctx context.Context, args ...string) (string, error) {
	cmd := exec.CommandContext(ctx, p.Path, args...)
	var problems strings.Builder
	cmd.Stderr = &problems
	out, err := cmd.Output()
	if err != nil {
		return string(out), fmt.Errorf("croftmark %s: %w\n%s", strings.Join(args, " "), err, problems.String())
	}
	return string(out), nil
}

// Service is a running copy of the program.
type Service struct {
	Address string // http://127.0.0.1:PORT
	Data    string // its data folder; empty when it works on somebody else's database
	cmd     *exec.Cmd
	ended   chan error
}

// Serve starts the service in a data folder and returns once it listens.
func (p Program) Serve(ctx context.Context, data string, more ...string) (*Service, error) {
	s, err := p.start(ctx, data+".log", nil, "serve", append([]string{"--data", data}, more...)...)
	if s != nil {
		s.Data = data
	}
	return s, err
}

// ServeOn starts the service on a database server that runs already. log is a file for what it says.
func (p Program) ServeOn(ctx context.Context, databaseURL, log string, more ...string) (*Service, error) {
	return p.start(ctx, log, nil, "serve", append([]string{"--database-url", databaseURL}, more...)...)
}

// Demo serves the demo farm from a data folder, and fills it first if it is empty. It gives a token for each role.
func (p Program) Demo(ctx context.Context, data string) (*Service, map[string]string, error) {
	tokens, ready := map[string]string{}, make(chan struct{})
	s, err := p.start(ctx, data+".log", func(line string) {
		words := strings.Fields(line)
		if len(words) > 1 && strings.HasPrefix(words[len(words)-1], "cm_") {
			tokens[words[0]] = words[len(words)-1]
		}
		if strings.HasPrefix(line, "demo farm ready") {
			close(ready)
		}
	}, "demo", "--data", data)
	if err != nil {
		return nil, nil, err
	}
	s.Data = data
	select {
	case <-ready:
		return s, tokens, nil
	case err := <-s.ended:
		s.ended <- err
		return nil, nil, fmt.Errorf("the demo farm was not filled: %w; see %s.log", err, data)
	case <-ctx.Done():
		s.Kill()
		return nil, nil, ctx.Err()
	}
}

// start runs a command that serves, and returns once it listens. heard gets every line it prints.
func (p Program) start(ctx context.Context, log string, heard func(line string), command string, args ...string) (*Service, error) {
	said, err := os.OpenFile(log, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return nil, err
	}
	defer said.Close() // the process has its own copy
	s := &Service{cmd: exec.Command(p.Path, append([]string{command, "--listen", "127.0.0.1:0"}, args...)...), ended: make(chan error, 1)}
	s.cmd.Stderr = said
	// A group of its own, so that an interrupt at the terminal reaches this program alone and it can clean up.
	s.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	out, err := s.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := s.cmd.Start(); err != nil {
		return nil, err
	}
	listening := make(chan string, 1)
	go func() {
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			if address, ok := strings.CutPrefix(lines.Text(), "listening on "); ok {
				listening <- address
			}
			if heard != nil {
				heard(lines.Text())
			}
		}
		s.ended <- s.cmd.Wait()
	}()
	select {
	case s.Address = <-listening:
		return s, nil
	case err := <-s.ended:
		s.ended <- err
		return nil, fmt.Errorf("the service ended before it listened: %w; see %s", err, log)
	case <-ctx.Done():
		s.Kill()
		return nil, ctx.Err()
	}
}

// PID is the service's process.
func (s *Service) PID() int { return s.cmd.Process.Pid }

// Kill ends the process at once, as a power cut would end the program.
func (s *Service) Kill() {
	_ = s.cmd.Process.Kill() // it may have ended by itself
	s.ended <- <-s.ended
}

// Ended waits for a service that ends by itself.
func (s *Service) Ended(patience time.Duration) error {
	select {
	case err := <-s.ended:
		s.ended <- err
		return nil
	case <-time.After(patience):
		s.Kill()
		return fmt.Errorf("the service should have ended by itself and did not within %s", patience)
	}
}

// Stop asks the service to end and waits for it.
func (s *Service) Stop() error {
	if err := s.cmd.Process.Signal(syscall.SIGTERM); errors.Is(err, os.ErrProcessDone) {
		return nil
	}
	select {
	case err := <-s.ended:
		s.ended <- err
		return err
	case <-time.After(60 * time.Second):
		s.Kill()
		return errors.New("the service did not end within a minute and was killed")
	}
}

// OwnerURL gives the address of the service's private database, for floors and for looking behind its back.
func (s *Service) OwnerURL(ctx context.Context) (string, error) {
	address, err := cluster.Attach(ctx, s.Data)
	if err != nil {
		return "", err
	}
	return address.OwnerURL(cluster.Database), nil
}
