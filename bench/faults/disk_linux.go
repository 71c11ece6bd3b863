package main

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/google/uuid"

	"croftmark/bench/rig"
)

// A small disk in memory, and how much of it is left free once the farm is open. The rest is taken by a ballast that goes
// away to make room again.
const (
	diskSize = "size=200m,mode=0755"
	leftFree = 3 << 20
)

// disks fills a small disk while a farm writes, gives room again, and starts once with the disk read-only.
func (f *faults) disks(ctx context.Context) error {
	folder := f.data("disk")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, diskSize); err != nil {
		fmt.Printf("%-8s %-6s this account may not mount a small disk: %v\n", "disk", "UNRUN", err)
		return nil
	}
	defer syscall.Unmount(folder, syscall.MNT_DETACH)
	data, ballast := filepath.Join(folder, "data"), filepath.Join(folder, "ballast")
	service, err := f.program.Serve(ctx, data)
	if err != nil {
		return err
	}
	url, err := service.OwnerURL(ctx)
	if err != nil {
		return err
	}
	farms, err := openFarms(ctx, url, service.Address, 1)
	if err != nil {
		return err
	}
	var disk syscall.Statfs_t
	if err := syscall.Statfs(folder, &disk); err != nil {
		return err
	}
	if err := os.WriteFile(ballast, make([]byte, int64(disk.Bfree)*disk.Bsize-leftFree), 0o600); err != nil {
		return err
	}
	w := &writers{farms: farms}
	statuses, err := fill(ctx, farms[0], w)
	f.say("disk", fmt.Sprintf("disk filled after %d acknowledged records; answers then: %v", len(w.acked), statuses), err)
	if err := os.Remove(ballast); err != nil {
		return err
	}
	if err := f.roomAgain(ctx, farms[0], w, service, data); err != nil {
		f.say("disk", "room made again", err)
		return nil
	}
	return f.readOnly(ctx, folder, data)
}

// fill writes until the service can't any more, and for a moment after. Nothing but "not now" may be answered then.
func fill(ctx context.Context, farm *rig.Farm, w *writers) (map[string]int, error) {
	statuses := map[string]int{}
	var wrong error
	for failed := 0; failed < 20 && ctx.Err() == nil; {
		body := farm.Application(len(w.acked), len(w.acked))
		id := uuid.Must(uuid.NewV7()).String()
		body["id"], body["note"] = id, strings.Repeat("long winded ", 80)
		a, err := farm.Send(ctx, http.MethodPost, "/v1/applications", body)
		switch {
		case err == nil && a.Status == http.StatusCreated:
			w.note(id, false)
			continue
		case err != nil:
			statuses["connection ended"]++
		default:
			statuses[http.StatusText(a.Status)]++
			if a.Status != http.StatusServiceUnavailable && a.Status != http.StatusInsufficientStorage {
				wrong = fmt.Errorf("a full disk was answered %d: %.300s", a.Status, a.Body)
			}
		}
		failed++
		time.Sleep(50 * time.Millisecond)
	}
	return statuses, wrong
}

// roomAgain writes once more after there is room: with the same service, or a new start where the database had to end.
func (f *faults) roomAgain(ctx context.Context, farm *rig.Farm, w *writers, service *rig.Service, data string) error {
	how, client := "the same service went on", farm.Client
	writes := func() error {
		_, err := client.Create(ctx, "/v1/applications", farm.Application(1, 1))
		return err
	}
	var err error
	for range 20 {
		if err = writes(); err == nil {
			break
		}
		time.Sleep(200 * time.Millisecond)
	}
	if err != nil {
		how = "a new start went on"
		service.Kill()
		if service, err = f.again(ctx, data); err != nil {
			return err
		}
		client.Address = service.Address
		if err := writes(); err != nil {
			return err
		}
	}
	err = f.holds(ctx, data, service, w, true)
	f.say("disk", "room made again: "+how+", every acknowledged record is in the book once", err)
	return service.Stop()
}

// readOnly starts the service on a disk that can't be written to: it must say so and end, and start again after.
func (f *faults) readOnly(ctx context.Context, folder, data string) error {
	if err := syscall.Mount("", folder, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		return fmt.Errorf("make the disk read-only: %w", err)
	}
	service, err := f.program.Serve(ctx, data)
	if err == nil {
		f.say("disk", "read-only disk", errors.Join(errors.New("the service started on a disk it can't write to"), service.Stop()))
		return nil
	}
	if err := syscall.Mount("", folder, "", syscall.MS_REMOUNT, ""); err != nil {
		return err
	}
	if service, err = f.program.Serve(ctx, data); err != nil {
		return err
	}
	_, err = f.program.Run(ctx, "verify", "--data", data)
	f.say("disk", "read-only disk: the service did not start; writable again, it did and the book holds", errors.Join(err, service.Stop()))
	return nil
}
